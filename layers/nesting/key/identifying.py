"""Identify a species: from what was seen of a nest to ranked species of the guide."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layers.nesting import attempt_columns as c
from layers.nesting.guide import Guide, Species
from layers.nesting.histories import Histories
from layers.nesting.key.traits import (
    ADULTS,
    FORMS,
    GROUNDS,
    MARKS,
    MATERIALS,
    adult_chances,
    count_chances,
    form_chances,
    ground_chances,
    length_chance,
    length_chances,
    mark_chances,
    material_chances,
    materials_chance,
)
from layers.trail.coding import day_number
from layers.trail.words import one_word
from layers.words import format_count

# From this chance on, and with so many traits seen, the key names a species, or a group of
# species that look alike.
SURE, SURE_OF_GROUP = 0.9, 0.8
LEAST_TRAITS = 2
# Days before and after a day of the year that count as the same time of the season.
_SAME_TIME_DAYS = 30
_DAYS_A_YEAR = 365.25
LISTED = 0.02
# A trait is worth a look if it is expected to take so much from the uncertainty.
LEAST_GAIN_BITS = 0.05


@dataclass(frozen=True)
class Seen:
    """What was seen of a nest; leave out what was not.

    Attributes
    ----------
    materials
        Words of `traits.MATERIALS`.
    form, ground, marks, adult
        A word of `traits.FORMS`, of `traits.GROUNDS`, of `traits.MARKS`, of `traits.ADULTS`.
    eggs
        How many, clutch complete or not.
    region
        One of the guide's regions: other species are left out.
    hole_mm
        Of a round hole: species that do not pass it are left out.
    """

    materials: tuple[str, ...] = ()
    form: str | None = None
    ground: str | None = None
    marks: str | None = None
    eggs: int | None = None
    egg_length_mm: float | None = None
    adult: str | None = None
    region: str | None = None
    hole_mm: float | None = None

    def __post_init__(self) -> None:
        for material in self.materials:
            one_word(material, "materials", tuple(MATERIALS))
        for name, words in (("form", FORMS), ("ground", GROUNDS), ("marks", MARKS)):
            if getattr(self, name) is not None:
                one_word(getattr(self, name), name, tuple(words))
        if self.adult is not None:
            one_word(self.adult, "adult", tuple(ADULTS))

    def may_be(self, species: Species) -> bool:
        """Whether the region and the hole leave a species open."""
        least = species.least_hole_mm
        passes = self.hole_mm is None or least is None or least.low <= self.hole_mm
        return passes and self.region in (None, *species.regions)


@dataclass(frozen=True)
class Candidate:
    """A species that it may be; `reasons` say what fits it and what does not."""

    species: str
    chance: float
    reasons: tuple[str, ...]


@dataclass(frozen=True)
class Identification:
    """The answer of the key.

    Attributes
    ----------
    species
        The species, or None where what was seen does not decide.
    either
        Species that nest and eggs do not distinguish, if it is most likely one of them.
    candidates
        Best first; those with a chance of two in a hundred or more.
    look_next
        What to look at to distinguish the candidates, the most useful first; empty
        where nothing would.
    said
        The answer in a sentence.
    """

    species: str | None
    either: tuple[str, ...]
    candidates: tuple[Candidate, ...]
    look_next: tuple[str, ...]
    said: str


def identify(
    guide: Guide, seen: Seen, *, trail: Histories | None = None, on: date | None = None
) -> Identification:
    """Which species a nest may belong to: the posterior over those that may be here.

    Species that the guide calls alike (`Species.alike`) share what their descriptions say; only
    the bird itself, the hole and the trail's own nests distinguish them.

    Parameters
    ----------
    trail, on
        The trail's own nests and the day: species that began nests here around that time
        of the year count for more. The guide itself knows no dates.
    """
    nests = nests_begun(trail, on) if trail is not None and on is not None else {}
    traits = _traits(seen)
    ranked = _posterior(guide, seen, traits, nests)
    known = len(traits) + (seen.adult is not None)
    if not known or not ranked:
        why = "nothing was seen that distinguishes species" if ranked else "none passes such a hole"
        return Identification(None, (), (), LOOKS, f"Not sure: {why}.")
    best, first = ranked[0]
    # Where very many fit alike, none of them reaches the chance from which they are listed.
    likely = [(chance, one) for chance, one in ranked if chance >= min(LISTED, best)]
    listed = tuple(
        Candidate(one.common, chance, _reasons(one, seen, traits, nests.get(one.common, 0)))
        for chance, one in likely
    )
    look_next = _look_next(seen, likely)
    enough = known >= LEAST_TRAITS
    if best >= SURE and enough:
        text = f"Most likely {first.common} ({best:.0%})."
        return Identification(first.common, (), listed, look_next, text)
    group = [(chance, one) for chance, one in likely if first.alike and one.alike == first.alike]
    together = sum(chance for chance, _ in group)
    if len(group) > 1 and together >= SURE_OF_GROUP and enough:
        either = tuple(one.common for _, one in group)
        text = (
            f"Most likely {' or '.join(either)} ({together:.0%} together): nest and eggs do not"
            " distinguish them."
        )
        return Identification(None, either, listed, look_next, text)
    names = ", ".join(one.species for one in listed[:3])
    return Identification(None, (), listed, look_next, f"Not sure: it may be {names}.")


def _posterior(
    guide: Guide, seen: Seen, traits: list[Trait], nests: Mapping[str, int]
) -> list[tuple[float, Species]]:
    """The chance of each species that may be here, the best first."""
    species = [one for one in guide.species if seen.may_be(one)]
    by_looks = {one.common: math.prod(chance(one) for _, chance, _ in traits) for one in species}
    groups: dict[str, list[float]] = {}
    for one in species:
        groups.setdefault(one.alike or one.common, []).append(by_looks[one.common])
    adult = seen.adult
    weights = []
    for one in species:
        shared = groups[one.alike or one.common]
        bird = 1.0 if adult is None else adult_chances(one)[adult]
        weights.append((1 + nests.get(one.common, 0)) * bird * sum(shared) / len(shared))
    total = sum(weights)
    return sorted(
        ((weight / total, one) for weight, one in zip(weights, species, strict=True) if total),
        key=lambda pair: (-pair[0], pair[1].common),
    )


def region_of(trail: Histories) -> str | None:
    """The one region in which every species recorded on a trail is met; None where the
    species leave several open, or none is recorded.
    """
    known = [trail.guide.get(name) for name in trail.visits.species_names]
    shared = [set(one.regions) for one in known if one is not None and one.regions]
    left = set.intersection(*shared) if shared else set()
    return left.pop() if len(left) == 1 else None


def region_at(lon: float, lat: float) -> str | None:
    """The guide's region of a place; None where it knows none.

    The two halves of North America meet at 100 degrees west (from memory).
    """
    if 15 <= lat <= 75 and -170 <= lon <= -50:
        return "western North America" if lon < -100 else "eastern North America"
    return "Europe" if 34 <= lat <= 72 and -25 <= lon <= 45 else None


Trait = tuple[str, Callable[[Species], float], float]
"""What was seen in words, its chance by species, and the chance from which on it fits."""

FITS, ODD = 0.25, 0.05


def _traits(seen: Seen) -> list[Trait]:
    """What was seen of the nest and its eggs."""
    traits: list[Trait] = []
    form, ground, marks, eggs = seen.form, seen.ground, seen.marks, seen.eggs
    length = seen.egg_length_mm
    if seen.materials:
        chance = partial(materials_chance, materials=seen.materials)
        traits.append((f"nest of {', '.join(seen.materials)}", chance, 0.0))
    if form is not None:
        traits.append((f"nest: {form}", lambda one: form_chances(one)[form], FITS))
    if ground is not None:
        traits.append((f"{ground} eggs", lambda one: ground_chances(one)[ground], FITS))
    if marks is not None:
        traits.append((f"{marks} eggs", lambda one: mark_chances(one)[marks], FITS))
    if eggs:  # a nest without eggs yet may be any species'
        words = format_count(eggs, "egg", "eggs")
        traits.append((words, lambda one: count_chances(one).get(eggs, 0.001), ODD))
    if length is not None:
        traits.append((f"eggs {length:g} mm long", lambda one: length_chance(one, length), ODD))
    return traits


def _reasons(species: Species, seen: Seen, traits: list[Trait], nests: int) -> tuple[str, ...]:
    materials = material_chances(species)
    fits = [f"nest of {one}" for one in seen.materials if materials[one] >= FITS]
    odd = [f"nest of {one}" for one in seen.materials if materials[one] < ODD]
    for what, chance, least in traits:
        if least and chance(species) >= least:
            fits.append(what)
        elif least and chance(species) < least / 5:
            odd.append(what)
    if seen.adult is not None:
        (fits if adult_chances(species)[seen.adult] > 0.5 else odd).append(f"bird: {seen.adult}")
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


LOOK_MATERIAL = "what the nest is made of"
LOOK_FORM = "whether the nest is domed, a cup, or hardly one"
LOOK_GROUND = "the colour of the eggs, apart from marks"
LOOK_MARKS = "whether the eggs are plain, spotted or scrawled"
LOOK_LENGTH = "the length of an egg"
LOOK_ADULT = "the bird itself, from a distance"
LOOKS = (LOOK_MATERIAL, LOOK_FORM, LOOK_GROUND, LOOK_MARKS, LOOK_LENGTH, LOOK_ADULT)


def _look_next(seen: Seen, likely: Sequence[tuple[float, Species]]) -> tuple[str, ...]:
    """Traits not seen yet that would distinguish the likely species, the most useful first.

    Measured by what a trait is expected to take from the uncertainty (entropy, in bits).
    """
    open_traits: dict[str, tuple[bool, Callable[[Species], Mapping[Any, float]]]] = {
        LOOK_MATERIAL: (bool(seen.materials), _material_shares),
        LOOK_FORM: (seen.form is not None, form_chances),
        LOOK_GROUND: (seen.ground is not None, ground_chances),
        LOOK_MARKS: (seen.marks is not None, mark_chances),
        LOOK_LENGTH: (seen.egg_length_mm is not None, length_chances),
        LOOK_ADULT: (seen.adult is not None, adult_chances),
    }
    chances = np.array([chance for chance, _ in likely])
    gains = {
        what: _gain(chances / chances.sum(), [shares(one) for _, one in likely])
        for what, (known, shares) in open_traits.items()
        if not known
    }
    useful = [what for what, gain in gains.items() if gain >= LEAST_GAIN_BITS]
    return tuple(sorted(useful, key=lambda what: -gains[what]))


def _material_shares(species: Species) -> dict[str, float]:
    chances = material_chances(species)
    total = sum(chances.values())
    return {material: chance / total for material, chance in chances.items()}


def _gain(chances: NDArray[np.float64], rows: Sequence[Mapping[str, float]]) -> float:
    table = np.array([list(row.values()) for row in rows])
    of_value = chances @ table
    given = chances[:, None] * table / of_value
    return float(_bits(chances) - (of_value * np.array([_bits(one) for one in given.T])).sum())


def _bits(chances: NDArray[np.float64]) -> float:
    some = chances[chances > 0]
    return float(-(some * np.log2(some)).sum())


def nests_begun(trail: Histories, on: date) -> dict[str, int]:
    """Nests of each species that the trail's visits first met around the day of the year."""
    rows = trail.rows
    half = _DAYS_A_YEAR / 2
    apart = np.abs((rows[:, c.FIRST_DAY] - day_number(on) + half) % _DAYS_A_YEAR - half)
    near = (apart <= _SAME_TIME_DAYS) & (rows[:, c.SPECIES] >= 0) & (rows[:, c.LAID] == 1)
    codes, counts = np.unique(rows[near, c.SPECIES], return_counts=True)
    names = trail.visits.species_names
    return {names[code]: int(count) for code, count in zip(codes, counts, strict=True)}
