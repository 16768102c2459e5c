"""What each box is: in use, started, finished and so on."""

from __future__ import annotations

from layers.maps.symbols import OKABE_ITO, WHITE, Symbol
from layers.maps.themes.theme import Painted, Theme
from layers.nesting.histories import Histories
from layers.trail.words import OCCUPANCY

_LOOKS = {
    "in use": ("disc", OKABE_ITO["bluish green"]),
    "started": ("half disc", OKABE_ITO["sky blue"]),
    "finished": ("square", OKABE_ITO["blue"]),
    "unused": ("small ring", WHITE),
    "other animal": ("triangle", OKABE_ITO["orange"]),
    "not checked": ("diamond", OKABE_ITO["yellow"]),
    "out of service": ("cross", OKABE_ITO["black"]),
}


def _painted(histories: Histories) -> Painted:
    symbols = tuple(Symbol(word, *_LOOKS[word]) for word in OCCUPANCY)
    return Painted(symbols, tuple(range(len(OCCUPANCY))))


THEME = Theme("occupancy", "Box use", "occupancy", _painted)
