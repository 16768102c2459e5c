"""What a person can see of a nest, and how likely each species shows it.

The likelihoods are read from the guide's own words on nests and eggs, so that a species
which a trail adds to its guide takes part in the key. The figures are our own choice, from
common practice and without a source: they rank, and claim no more.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from types import MappingProxyType

from layers.nesting.guide import Species

MATERIALS: Mapping[str, str] = MappingProxyType(
    {
        "moss": r"moss|lichen",
        "grass": r"grass|weed stems|needles|fibres",
        "twigs": r"twigs?|stick",
        "leaves": r"leaves",
        "bark": r"bark",
        "feathers": r"feathers",
        "hair": r"hair|fur|wool",
        "plant down": r"down\b",
        "mud": r"mud|resin",
        "rootlets": r"rootlets",
        "snakeskin": r"snakeskin",
        "wood chips": r"wood chips",
        "litter": r"litter",
        "nothing": r"nothing|no material",
    }
)
"""What a nest may be made of -> how the guide's words tell of it."""

GROUNDS: Mapping[str, str] = MappingProxyType(
    {
        "white": r"white|whitish",
        "blue": r"blue|bluish",
        "green": r"green",
        "cream": r"cream|creamy|buff",
        "pink": r"pinkish",
        "grey": r"grey(?:ish)?(?= white|,| or)",
    }
)
"""Colour of the egg itself, apart from marks."""

MARKS: Mapping[str, str] = MappingProxyType(
    {
        "plain": r"plain",
        "spotted": r"spots|specks|speckles|flecks|blotches|marks",
        "scrawled": r"scrawls",
    }
)

# A word that says so makes what follows it an exception.
_SELDOM = re.compile(r"sometimes|at times|now and then|a few in a hundred|more nests that stay")

_MAIN, _EXCEPTION, _NOT_TOLD = 1.0, 0.12, 0.03
# Where the guide says nothing of a trait, it fits as well as a middling species.
_NOTHING_KNOWN = 0.4
# An egg of a species varies in length by about one part in twenty.
_LENGTH_SPREAD = 0.05


def _told(text: str | None, words: Mapping[str, str]) -> dict[str, float] | None:
    """How strongly a text speaks for each word; None where it speaks for none."""
    if text is None:
        return None
    found: dict[str, float] = {}
    seldom = _SELDOM.search(text)
    edge = seldom.start() if seldom else len(text)
    for word, pattern in words.items():
        place = re.search(rf"\b(?:{pattern})", text)
        if place is not None:
            found[word] = _MAIN if place.start() < edge else _EXCEPTION
    return found or None


def _shares(told: dict[str, float] | None, words: Sequence[str]) -> dict[str, float]:
    """The chance that a person sees each word, of words that exclude each other."""
    weights = {
        word: _NOTHING_KNOWN if told is None else told.get(word, _NOT_TOLD) for word in words
    }
    total = sum(weights.values())
    return {word: weight / total for word, weight in weights.items()}


def material_fit(species: Species, material: str) -> float:
    """How well a material fits a species' nest, from 0 to 1."""
    told = _told(species.nest, MATERIALS)
    return _NOTHING_KNOWN if told is None else told.get(material, _NOT_TOLD)


def ground_chances(species: Species) -> dict[str, float]:
    """The chance of each colour of the egg itself."""
    return _shares(_told(species.eggs, GROUNDS), tuple(GROUNDS))


def mark_chances(species: Species) -> dict[str, float]:
    """The chance of each kind of marks on the egg."""
    return _shares(_told(species.eggs, MARKS), tuple(MARKS))


def count_fit(species: Species, eggs: int) -> float:
    """How well a number of eggs fits, which may not be the whole clutch."""
    if eggs <= species.clutch.high:
        return _MAIN
    return _NOTHING_KNOWN if eggs <= species.clutch_range.high else _NOT_TOLD


def length_fit(species: Species, egg_length_mm: float) -> float:
    """How well the length of an egg fits, from 0 to 1."""
    span = species.egg_length_mm
    if span is None:
        return _NOTHING_KNOWN
    nearest = min(max(egg_length_mm, span.low), span.high)
    off = (egg_length_mm - nearest) / (_LENGTH_SPREAD * nearest)
    return max(math.exp(-off * off / 2), _NOT_TOLD / 10)
