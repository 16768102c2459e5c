"""The map's symbols: a colour, a shape and a word for each class of what a box is.

Colours are of the palette by Okabe and Ito, made to be distinguished by all kinds of
colour vision. The shapes are our own choice; each is drawn with a dark rim, so
that a symbol reads in bright sun and in a grey print. Within one theme no two
classes share a shape with the same lightness.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType

# Okabe, M. & Ito, K. 2008. Color Universal Design, https://jfly.uni-koeln.de/color/
OKABE_ITO = MappingProxyType(
    {
        "black": "#000000",
        "orange": "#E69F00",
        "sky blue": "#56B4E9",
        "bluish green": "#009E73",
        "yellow": "#F0E442",
        "blue": "#0072B2",
        "vermilion": "#D55E00",
        "reddish purple": "#CC79A7",
    }
)

WHITE = "#FFFFFF"
"""For classes without a fact to show; drawn with the same dark rim."""

SHAPES = (
    "disc",
    "half disc",
    "square",
    "small ring",
    "triangle",
    "diamond",
    "cross",
    "tall bar",
    "wide bar",
    "drop",
    "star",
    "hexagon",
)
"""Shapes that `js/symbols.js` can draw."""


@dataclass(frozen=True)
class Symbol:
    """How one class is drawn, and the word beside it."""

    word: str
    shape: str
    colour: str
