"""Identify a species: from what was seen of a nest to ranked species of the guide."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import partial

import numpy as np
from numpy.typing import NDArray

from layers.nesting import attempt_columns as c
from layers.nesting.guide import Guide, Species
from layers.nesting.histories import Histories
from layers.nesting.key.traits import (
    GROUNDS,
    MARKS,
    MATERIALS,
    count_fit,
    ground_chances,
    length_fit,
    mark_chances,
    material_fit,
)
from layers.trail.coding import day_number
from layers.trail.words import one_word
from layers.words import format_count

# From this chance on, and with so many traits seen, the key names a species.
_SURE = 0.8
_LEAST_TRAITS = 2
# Days before and after a day of the year that count as the same time of the season.
_SAME_TIME_DAYS = 30
_DAYS_A_YEAR = 365.25
_LISTED = 0.02


@dataclass(frozen=True)
class Seen:
    """What was seen of a nest; leave out what was not.

    Attributes
    ----------
    materials
        Words of `traits.MATERIALS`.
    ground, marks
        A word of `traits.GROUNDS`, of `traits.MARKS`.
    eggs
        How many, clutch complete or not.
    region
        One of the guide's regions: other species are left out.
    """

    materials: tuple[str, ...] = ()
    ground: str | None = None
    marks: str | None = None
    eggs: int | None = None
    egg_length_mm: float | None = None
    region: str | None = None

    def __post_init__(self) -> None:
        for material in self.materials:
            one_word(material, "materials", tuple(MATERIALS))
        if self.ground is not None:
            one_word(self.ground, "ground", tuple(GROUNDS))
        if self.marks is not None:
            one_word(self.marks, "marks", tuple(MARKS))


@dataclass(frozen=True)
class Candidate:
    """A species that it may be; `reasons` say what fits it and what does not."""

    species: str
    chance: float
    reasons: tuple[str, ...]


@dataclass(frozen=True)
class Answer:
    """The answer of the key.

    Attributes
    ----------
    species
        The species, or None: it cannot be told from what was seen.
    candidates
        Best first; those with a chance of two in a hundred or more.
    look_next
        What to look at to tell the candidates apart, the most useful first; empty
        where nothing would.
    said
        The answer in a sentence.
    """

    species: str | None
    candidates: tuple[Candidate, ...]
    look_next: tuple[str, ...]
    said: str


def identify(
    guide: Guide, seen: Seen, *, trail: Histories | None = None, on: date | None = None
) -> Answer:
    """Which species a nest may belong to.

    Parameters
    ----------
    trail, on
        The trail's own nests and the day: species that began nests here around that time
        of the year count for more. The guide itself knows no dates.
    """
    species = [one for one in guide.species if seen.region in (None, *one.regions)]
    nests = _nests_begun(trail, on) if trail is not None and on is not None else {}
    traits = _traits(seen)
    weights = [
        (1 + nests.get(one.common, 0)) * math.prod(fit(one) for _, fit in traits) for one in species
    ]
    total = sum(weights)
    if not traits or total == 0.0:
        return Answer(
            None, (), _LOOKS_ASKED, "Cannot tell: nothing was seen that tells species apart."
        )
    ranked = sorted(
        zip((weight / total for weight in weights), species, strict=True),
        key=lambda pair: (-pair[0], pair[1].common),
    )
    best, name = ranked[0][0], ranked[0][1].common
    # Where very many fit alike, none of them reaches the chance from which they are listed.
    likely = [(chance, one) for chance, one in ranked if chance >= min(_LISTED, best)]
    listed = tuple(
        Candidate(one.common, chance, _reasons(one, traits, nests.get(one.common, 0)))
        for chance, one in likely
    )
    look_next = _look_next(seen, likely)
    if best >= _SURE and len(traits) >= _LEAST_TRAITS:
        return Answer(name, listed, look_next, f"Most likely {name} ({best:.0%}).")
    names = ", ".join(one.species for one in listed[:3])
    return Answer(None, listed, look_next, f"Cannot tell: it may be {names}.")


def region_of(trail: Histories) -> str | None:
    """The one region in which every species recorded on a trail is met; None where the
    species leave several open, or none is recorded.
    """
    known = [trail.guide.get(name) for name in trail.visits.species_names]
    shared = [set(one.regions) for one in known if one is not None and one.regions]
    left = set.intersection(*shared) if shared else set()
    return left.pop() if len(left) == 1 else None


Trait = tuple[str, Callable[[Species], float]]


def _traits(seen: Seen) -> list[Trait]:
    """What was seen, in words, and how well it fits a species."""
    traits: list[Trait] = [
        (f"nest of {material}", partial(material_fit, material=material))
        for material in seen.materials
    ]
    ground, marks, eggs, length = seen.ground, seen.marks, seen.eggs, seen.egg_length_mm
    if ground is not None:
        traits.append((f"{ground} eggs", lambda one: ground_chances(one)[ground]))
    if marks is not None:
        traits.append((f"{marks} eggs", lambda one: mark_chances(one)[marks]))
    if eggs:  # a nest without eggs yet may be any species'
        traits.append((format_count(eggs, "egg", "eggs"), lambda one: count_fit(one, eggs)))
    if length is not None:
        traits.append((f"eggs {length:g} mm long", lambda one: length_fit(one, length)))
    return traits


def _reasons(species: Species, traits: list[Trait], nests: int) -> tuple[str, ...]:
    fits = [what for what, fit in traits if fit(species) >= 0.3]
    odd = [what for what, fit in traits if fit(species) < 0.1]
    reasons = []
    if fits:
        reasons.append(f"fits: {', '.join(fits)}")
    if odd:
        reasons.append(f"does not fit: {', '.join(odd)}")
    if nests:
        reasons.append(
            f"{format_count(nests, 'nest', 'nests')} begun here at this time of the year"
        )
    for what, words in (("nest", species.nest), ("eggs", species.eggs)):
        if words:
            reasons.append(f"guide, {what}: {words}")
    return tuple(reasons)


_LOOK_MATERIAL = "what the nest is made of"
_LOOK_GROUND = "the colour of the eggs, apart from marks"
_LOOK_MARKS = "whether the eggs are plain, spotted or scrawled"
_LOOK_LENGTH = "the length of an egg"
_LOOKS_ASKED = (_LOOK_MATERIAL, _LOOK_GROUND, _LOOK_MARKS, _LOOK_LENGTH)


def _look_next(seen: Seen, likely: Sequence[tuple[float, Species]]) -> tuple[str, ...]:
    """Traits not seen yet that would tell the likely species apart, the most useful first.

    Measured by what a trait is expected to take from the uncertainty (entropy, in bits).
    """
    tables: dict[str, list[Mapping[str, float]]] = {}
    if seen.ground is None:
        tables[_LOOK_GROUND] = [ground_chances(one) for _, one in likely]
    if seen.marks is None:
        tables[_LOOK_MARKS] = [mark_chances(one) for _, one in likely]
    if not seen.materials:
        tables[_LOOK_MATERIAL] = [_material_shares(one) for _, one in likely]
    if seen.egg_length_mm is None:
        tables[_LOOK_LENGTH] = [_length_shares(one) for _, one in likely]
    chances = np.array([chance for chance, _ in likely])
    gains = {what: _gain(chances / chances.sum(), rows) for what, rows in tables.items()}
    useful = [what for what, gain in gains.items() if gain >= 0.05]
    return tuple(sorted(useful, key=lambda what: -gains[what]))


def _material_shares(species: Species) -> dict[str, float]:
    fits = {material: material_fit(species, material) for material in MATERIALS}
    total = sum(fits.values())
    return {material: fit / total for material, fit in fits.items()}


def _length_shares(species: Species) -> dict[str, float]:
    """The chance of an egg in each step of two millimetres."""
    fits = {str(mm): length_fit(species, mm) for mm in range(14, 62, 2)}
    total = sum(fits.values())
    return {step: fit / total for step, fit in fits.items()}


def _gain(chances: NDArray[np.float64], rows: Sequence[Mapping[str, float]]) -> float:
    table = np.array([list(row.values()) for row in rows])
    of_value = chances @ table
    given = chances[:, None] * table / of_value
    return float(_bits(chances) - (of_value * np.array([_bits(one) for one in given.T])).sum())


def _bits(chances: NDArray[np.float64]) -> float:
    some = chances[chances > 0]
    return float(-(some * np.log2(some)).sum())


def _nests_begun(trail: Histories, on: date) -> dict[str, int]:
    """Nests of each species that the trail's visits first met around the day of the year."""
    rows = trail.rows
    half = _DAYS_A_YEAR / 2
    apart = np.abs((rows[:, c.FIRST_DAY] - day_number(on) + half) % _DAYS_A_YEAR - half)
    near = (apart <= _SAME_TIME_DAYS) & (rows[:, c.SPECIES] >= 0) & (rows[:, c.LAID] == 1)
    codes, counts = np.unique(rows[near, c.SPECIES], return_counts=True)
    names = trail.visits.species_names
    return {names[code]: int(count) for code, count in zip(codes, counts, strict=True)}
