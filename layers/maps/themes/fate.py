"""How the latest nest of each box ended."""

from __future__ import annotations

from layers.maps.symbols import OKABE_ITO, WHITE, Symbol
from layers.maps.themes.theme import Painted, Theme
from layers.nesting.histories import Histories
from layers.trail.words import FATES

_LOOKS = {
    "ongoing": ("disc", OKABE_ITO["sky blue"]),
    "fledged": ("star", OKABE_ITO["bluish green"]),
    "failed": ("cross", OKABE_ITO["vermilion"]),
    "unknown": ("diamond", OKABE_ITO["yellow"]),
    "probably fledged": ("hexagon", OKABE_ITO["bluish green"]),
    "probably failed": ("triangle", OKABE_ITO["vermilion"]),
}


def _painted(histories: Histories) -> Painted:
    symbols = tuple(Symbol(word, *_LOOKS[word]) for word in FATES)
    none = Symbol("no eggs so far", "small ring", WHITE)
    return Painted((none, *symbols), tuple(range(len(FATES) + 1)))


THEME = Theme("fate", "Outcome of the latest nest", "fate", _painted)
