"""What is due on one day, and how to look."""

from __future__ import annotations

from dataclasses import dataclass

from layers.maps.symbols import OKABE_ITO, WHITE, Symbol
from layers.maps.themes.theme import DAY, Painted
from layers.nesting import due
from layers.nesting.histories import Histories

_LOOKS = {
    due.PRESSING: ("star", OKABE_ITO["vermilion"]),
    due.DUE: ("disc", OKABE_ITO["orange"]),
    due.CAN_WAIT: ("half disc", OKABE_ITO["sky blue"]),
    "due: look from a distance": ("triangle", OKABE_ITO["blue"]),
    "not due: look from a distance": ("diamond", OKABE_ITO["reddish purple"]),
    due.DO_NOT_VISIT: ("cross", OKABE_ITO["black"]),
    due.NOT_DUE: ("small ring", WHITE),
    "out of service": ("wide bar", WHITE),
}

_AFAR = {True: "due: look from a distance", False: "not due: look from a distance"}


@dataclass(frozen=True)
class Due:
    name: str = "due"
    title: str = "What is due, and how to look"
    column: str = "due"
    told: str = DAY

    def painted(self, histories: Histories) -> Painted:
        symbols = tuple(Symbol(word, *look) for word, look in _LOOKS.items())
        return Painted(symbols, tuple(range(len(symbols))))


THEME = Due()

WORDS = tuple(_LOOKS)
"""The words of the codes."""


def due_code(one: due.Due | None) -> int:
    """The code of what a box needs; `None` = it does not stand on that day."""
    if one is None:
        return WORDS.index("out of service")
    if one.look == due.DO_NOT_VISIT:
        return WORDS.index(due.DO_NOT_VISIT)
    return WORDS.index(_AFAR[one.due] if one.look == due.FROM_AFAR else one.urgency)
