"""What a person can see of a nest, and how likely each species shows it.

The chances are read from the guide's own words on nests and eggs, so that a species which a
trail adds to its guide takes part in the key. How often a trait is seen, and how often wrongly,
is our own choice from common practice, without a source; `tests/nesting/test_key_chances.py`
holds what follows from it against descriptions with errors of its own.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
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
"""What a nest may be made of, its lining included -> how the guide's words name it."""

FORMS: Mapping[str, str] = MappingProxyType(
    {
        "open cup": r"cup|bed|pad|loose",
        "domed": r"domed",
        "heap of twigs": r"twigs that fill",
        "hardly a nest": r"nothing|no material|wood chips",
    }
)
"""The form of a nest -> how the guide's words name it; a cup where they name none."""

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

ADULTS: Mapping[str, str] = MappingProxyType(
    {
        "bluebird": r"bluebird",
        "swallow or martin": r"swallow|martin|swift",
        "chickadee or tit": r"chickadee|tit|titmouse",
        "wren": r"wren",
        "nuthatch or treecreeper": r"nuthatch|treecreeper",
        "warbler": r"warbler",
        "flycatcher or redstart": r"flycatcher|redstart",
        "sparrow": r"sparrow",
        "starling": r"starling",
        "woodpecker": r"flicker|wryneck|woodpecker",
        "owl": r"owl|screech-owl",
        "falcon": r"kestrel",
        "duck": r"duck|goldeneye",
        "other": r"dove|hoopoe",
    }
)
"""The kind of bird that was seen at the box -> the names it goes by."""

# Words after which what follows is an exception.
_SELDOM = re.compile(r"sometimes|at times|now and then|a few in a hundred|more nests that stay")

# What a person notes is a slip once in ten times: then anything.
SLIP = 0.1
_MAIN, _EXCEPTION, _NOT_NAMED = 1.0, 0.12, 0.01
# How often a material is noted that the guide names, names as an exception, or does not name.
_NOTED, _NOTED_EXCEPTION, _NOTED_WRONGLY = 0.65, 0.2, 0.02
# How often one material alone is noted.
BRIEF = 0.4
# Eggs are counted in a complete clutch that often; else any number up to it.
_COMPLETE = 0.6
# An egg of a species varies in length by about one part in twenty.
_LENGTH_SPREAD = 0.05
LENGTHS_MM = range(10, 71)
_COUNTS = range(1, 61)


def _named(text: str | None, words: Mapping[str, str]) -> dict[str, float]:
    """How strongly a text speaks for each word that it names."""
    found: dict[str, float] = {}
    if text is None:
        return found
    seldom = _SELDOM.search(text)
    edge = seldom.start() if seldom else len(text)
    for word, pattern in words.items():
        place = re.search(rf"\b(?:{pattern})", text)
        if place is not None:
            found[word] = _MAIN if place.start() < edge else _EXCEPTION
    return found


def _shares(named: Mapping[str, float], words: Iterable[str]) -> dict[str, float]:
    """The chance of each word, of words that exclude each other; even where none is named."""
    weights = {word: named.get(word, _NOT_NAMED) for word in words}
    total = sum(weights.values())
    return {word: weight / total for word, weight in weights.items()}


def _with_slips(shares: Mapping[str, float]) -> dict[str, float]:
    return {word: (1 - SLIP) * share + SLIP / len(shares) for word, share in shares.items()}


@lru_cache(maxsize=500)
def material_chances(species: Species) -> Mapping[str, float]:
    """The chance that each material is noted where a nest is described."""
    named = _named(species.nest, MATERIALS)
    if not named:
        return dict.fromkeys(MATERIALS, _NOTED_EXCEPTION)
    noted = {_MAIN: _NOTED, _EXCEPTION: _NOTED_EXCEPTION, 0.0: _NOTED_WRONGLY}
    return {material: noted[named.get(material, 0.0)] for material in MATERIALS}


def materials_chance(species: Species, materials: Sequence[str]) -> float:
    """The chance that just these materials are noted: all that is seen, or what strikes most."""
    chances = material_chances(species)
    listed = math.prod(
        chance if material in materials else 1 - chance for material, chance in chances.items()
    )
    if len(materials) != 1:
        return (1 - BRIEF) * listed
    return (1 - BRIEF) * listed + BRIEF * chances[materials[0]] / sum(chances.values())


@lru_cache(maxsize=500)
def form_chances(species: Species) -> Mapping[str, float]:
    """The chance of each form of the nest."""
    named = _named(species.nest, FORMS)
    if "domed" in named and re.search(r"often domed", species.nest or ""):
        named = {"domed": 0.7, "open cup": 0.3}
    elif "domed" in named or "heap of twigs" in named or "hardly a nest" in named:
        named.pop("open cup", None)
    elif species.nest is not None:
        named.setdefault("open cup", _MAIN)
    return _with_slips(_shares(named, FORMS))


@lru_cache(maxsize=500)
def ground_chances(species: Species) -> Mapping[str, float]:
    """The chance of each colour of the egg itself."""
    return _with_slips(_shares(_named(species.eggs, GROUNDS), GROUNDS))


@lru_cache(maxsize=500)
def mark_chances(species: Species) -> Mapping[str, float]:
    """The chance of each kind of marks on the egg."""
    return _with_slips(_shares(_named(species.eggs, MARKS), MARKS))


@lru_cache(maxsize=500)
def adult_chances(species: Species) -> Mapping[str, float]:
    """The chance that each kind of bird is seen at the box."""
    named = {
        word: _MAIN
        for word, pattern in ADULTS.items()
        if re.search(rf"\b(?:{pattern})$", species.common)
    }
    return _with_slips(_shares(named, ADULTS))


@lru_cache(maxsize=500)
def count_chances(species: Species) -> Mapping[int, float]:
    """The chance of each number of eggs, which may not be the whole clutch."""
    usual, extremes = species.clutch, species.clutch_range
    clutches = {
        size: 1.0 if usual.low <= size <= usual.high else 0.15
        for size in range(math.floor(extremes.low), math.ceil(extremes.high) + 1)
    }
    total = sum(clutches.values())
    chances = dict.fromkeys(_COUNTS, SLIP / len(_COUNTS))
    for size, weight in clutches.items():
        share = (1 - SLIP) * weight / total
        chances[size] += _COMPLETE * share
        for fewer in range(1, size + 1):
            chances[fewer] += (1 - _COMPLETE) * share / size
    return chances


@lru_cache(maxsize=500)
def length_chances(species: Species) -> Mapping[int, float]:
    """The chance of each length of an egg, in whole millimetres."""
    span = species.egg_length_mm
    even = 1 / len(LENGTHS_MM)
    if span is None:
        return dict.fromkeys(LENGTHS_MM, even)
    middle, spread = (span.low + span.high) / 2, (span.high - span.low) / 4
    spread = math.hypot(_LENGTH_SPREAD * middle, spread)
    weights = {mm: math.exp(-(((mm - middle) / spread) ** 2) / 2) for mm in LENGTHS_MM}
    total = sum(weights.values())
    return {mm: (1 - SLIP) * weight / total + SLIP * even for mm, weight in weights.items()}


def length_chance(species: Species, egg_length_mm: float) -> float:
    """The chance of the length of an egg, in the nearest whole millimetre."""
    nearest = min(max(round(egg_length_mm), LENGTHS_MM[0]), LENGTHS_MM[-1])
    return length_chances(species)[nearest]
