"""Which species nested: the most frequent ones have a symbol of their own."""

from __future__ import annotations

import numpy as np

from layers.maps.symbols import OKABE_ITO, WHITE, Symbol
from layers.maps.themes.theme import Painted, Theme
from layers.nesting import attempt_columns as c
from layers.nesting.histories import Histories
from layers.nesting.timeline import timeline_species

_LOOKS = (
    ("disc", OKABE_ITO["blue"]),
    ("triangle", OKABE_ITO["orange"]),
    ("square", OKABE_ITO["bluish green"]),
    ("diamond", OKABE_ITO["reddish purple"]),
    ("star", OKABE_ITO["vermilion"]),
    ("hexagon", OKABE_ITO["sky blue"]),
    ("drop", OKABE_ITO["yellow"]),
    ("tall bar", OKABE_ITO["black"]),
)


def _painted(histories: Histories) -> Painted:
    """Symbols by how many attempts a species has; equal numbers by name."""
    names = timeline_species(histories)
    codes = histories.rows[:, c.SPECIES]
    counts = np.bincount(codes[codes >= 0], minlength=len(names))
    named = [code for code in range(len(names) - 1) if counts[code] > 0]
    named.sort(key=lambda code: (-counts[code], names[code]))
    own = named[: len(_LOOKS)]
    none = Symbol("no nest so far", "small ring", WHITE)
    symbols = [none, *(Symbol(names[code], *look) for code, look in zip(own, _LOOKS, strict=False))]
    class_of = [0] * (len(names) + 1)
    for place, code in enumerate(own):
        class_of[code + 1] = place + 1
    if len(named) > len(own):
        for code in named[len(own) :]:
            class_of[code + 1] = len(symbols)
        symbols.append(Symbol("another species", "wide bar", OKABE_ITO["sky blue"]))
    class_of[-1] = len(symbols)
    symbols.append(Symbol(names[-1], "half disc", WHITE))
    return Painted(tuple(symbols), tuple(class_of))


THEME = Theme("species", "Which species nested", "species", _painted)
