"""The key's chances against 5,000 descriptions drawn from the guide, with errors of their own."""

from __future__ import annotations

import random

import numpy as np
import pytest

from layers.nesting.guide import Species, standard_guide
from layers.nesting.key import FORMS, GROUNDS, MARKS, MATERIALS, Identification, Seen, identify
from layers.nesting.key.traits import form_chances, ground_chances, mark_chances, material_chances

GUIDE = standard_guide()
REGIONS = ("eastern North America", "western North America", "Europe")
ERRORS, MISSING = 0.1, 0.3
HOLES_MM = (None, 29, 32, 38, 45, 60)


def drawn(chance: random.Random, shares: dict[str, float], words: tuple[str, ...]) -> str | None:
    """A word as a person notes it: by its share, wrong once in ten times, or not at all."""
    if chance.random() < MISSING:
        return None
    if chance.random() < ERRORS:
        return chance.choice(words)
    # What the guide hardly gives a chance it does not name.
    named = {word: share for word, share in shares.items() if share > 0.03}
    return chance.choices(list(named), list(named.values()))[0]


def materials(chance: random.Random, species: Species) -> tuple[str, ...]:
    if chance.random() < MISSING:
        return ()
    named = [word for word, share in material_chances(species).items() if share > 0.1]
    found = {chance.choice(named)} if chance.random() < 0.4 else {
        word for word in named if chance.random() < 0.65
    }  # fmt: skip
    if chance.random() < ERRORS:
        found = (found - {chance.choice(named)}) | {chance.choice(tuple(MATERIALS))}
    return tuple(found)


def description(chance: random.Random) -> tuple[Species, Seen]:
    """A species of a region that passes the hole, and what somebody notes of its nest."""
    region, hole = chance.choice(REGIONS), chance.choice(HOLES_MM)
    here = [one for one in GUIDE.species if Seen(region=region, hole_mm=hole).may_be(one)]
    species = chance.choice(here)
    clutch = chance.randint(int(species.clutch.low), int(np.ceil(species.clutch.high)))
    eggs = clutch if chance.random() < 0.6 else chance.randint(1, clutch)
    if chance.random() < ERRORS:
        eggs = chance.randint(1, 15)
    span, length = species.egg_length_mm, None
    if span is not None and chance.random() > 0.6:
        length = chance.gauss((span.low + span.high) / 2, 0.05 * span.high)
        if chance.random() < ERRORS:
            length = chance.uniform(12, 60)
    return species, Seen(
        materials=materials(chance, species),
        form=drawn(chance, dict(form_chances(species)), tuple(FORMS)),
        ground=drawn(chance, dict(ground_chances(species)), tuple(GROUNDS)),
        marks=drawn(chance, dict(mark_chances(species)), tuple(MARKS)),
        eggs=None if chance.random() < MISSING else eggs,
        egg_length_mm=length,
        region=region,
        hole_mm=hole,
    )


@pytest.fixture(scope="module")
def answers() -> list[tuple[Species, Identification]]:
    chance = random.Random(20_261)
    return [
        (species, identify(GUIDE, seen))
        for species, seen in (description(chance) for _ in range(5000))
    ]


def test_what_is_predicted_comes_true_as_often_as_predicted(
    answers: list[tuple[Species, Identification]],
) -> None:
    said, right = [], []
    for species, answer in answers:
        for one in answer.candidates:
            said.append(one.chance)
            right.append(one.species == species.common)
    chances, came = np.array(said), np.array(right)
    for low in np.arange(0.0, 1.0, 0.1):
        held = (chances >= low) & (chances < low + 0.1 + (low > 0.85))
        assert held.sum() > 100
        assert chances[held].mean() == pytest.approx(came[held].mean(), abs=0.05), low


def test_a_species_that_is_named_is_right_nine_times_in_ten(
    answers: list[tuple[Species, Identification]],
) -> None:
    named = [(species, answer) for species, answer in answers if answer.species]
    assert len(named) > 1000
    assert np.mean([species.common == answer.species for species, answer in named]) > 0.95
    either = [(species, answer) for species, answer in answers if answer.either]
    assert len(either) > 200
    assert np.mean([species.common in answer.either for species, answer in either]) > 0.85


def test_no_species_is_above_60_percent_where_another_has_the_same_description(
    answers: list[tuple[Species, Identification]],
) -> None:
    alike = {one.common: one.alike for one in GUIDE.species if one.alike}
    checked = 0
    for _, answer in answers:
        for one in answer.candidates:
            others = [
                other
                for other in answer.candidates
                if other is not one and alike.get(other.species) == alike.get(one.species, "")
            ]
            if others:
                checked += 1
                assert one.chance <= 0.6
    assert checked > 500
