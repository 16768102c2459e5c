"""What is due on one day, and how to approach it."""

from __future__ import annotations

from layers.maps.symbols import OKABE_ITO, WHITE, Symbol
from layers.maps.themes.theme import Painted, Theme
from layers.nesting import due
from layers.nesting.histories import Histories

_SYMBOLS = {
    due.URGENT: ("star", OKABE_ITO["vermilion"]),
    due.DUE: ("disc", OKABE_ITO["orange"]),
    due.CAN_WAIT: ("half disc", OKABE_ITO["sky blue"]),
    "due: watch from a distance": ("triangle", OKABE_ITO["blue"]),
    "not due: watch from a distance": ("diamond", OKABE_ITO["reddish purple"]),
    "leave alone": ("cross", OKABE_ITO["black"]),
    due.NOT_DUE: ("small ring", WHITE),
    "out of service": ("wide bar", WHITE),
}

_AFAR = {True: "due: watch from a distance", False: "not due: watch from a distance"}


def _painted(histories: Histories) -> Painted:
    symbols = tuple(Symbol(word, *drawn) for word, drawn in _SYMBOLS.items())
    return Painted(symbols, tuple(range(len(symbols))))


THEME = Theme("due", "Due for a visit", "due", _painted, day_by_day=True)

WORDS = tuple(_SYMBOLS)
"""The words of the codes."""


def due_code(one: due.Due | None) -> int:
    """The code of what a box needs; `None` = it does not stand on that day."""
    if one is None:
        return WORDS.index("out of service")
    if one.approach == due.LEAVE:
        return WORDS.index("leave alone")
    return WORDS.index(_AFAR[one.due] if one.approach == due.WATCH else one.urgency)
