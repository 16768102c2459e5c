"""Visits that cannot be are named, with the box and the day."""

from typing import Any

import pytest

from layers.nesting.oddities import oddities
from tests.nesting.notebook import BLUEBIRD, read, seen
from tests.nesting.test_reading import FLEDGED, HATCHED, LAID


def said(*visits: dict[str, Any]) -> list[str]:
    return [
        f"{oddity.box} {oddity.day} {oddity.what}"
        for oddity in oddities(read(*visits), today="2026-12-31")
    ]


def test_a_plain_season_has_none() -> None:
    assert said(*FLEDGED) == []


@pytest.mark.parametrize(
    ("visits", "expected"),
    [
        ([seen("2027-01-05", nest="none")], "A1 2027-01-05 lies after 2026-12-31"),
        (
            [*HATCHED[:-1], seen("05-14", young=5, young_days=20)],
            "A1 2026-05-14 young judged 20 days old, 1 days after they were judged 8",
        ),
        (
            [LAID[0], seen("04-10", eggs=1, species=BLUEBIRD), seen("04-11", eggs=6)],
            "A1 2026-04-11 6 eggs, 1 days after 1: faster than one bird lays",
        ),
        (
            [*HATCHED[:-1], seen("05-15", eggs=0, young=7)],
            "A1 2026-05-15 7 young, after 5",
        ),
        (
            [*LAID, seen("05-06", eggs=0, young=8, young_days=1)],
            "A1 2026-05-06 8 young, from 5 eggs counted",
        ),
    ],
)
def test_each_odd_thing_is_found(visits: list[dict[str, Any]], expected: str) -> None:
    assert expected in said(*visits)
