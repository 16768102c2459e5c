"""Slips of the pen: what a biologist concludes of each notebook, and what the program answers.

The biologist's words were written first. Whatever the slip, a box that may hold young of an
age to jump stays closed until a later visit settles the matter.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from layers.nesting import attempt_columns as c
from layers.nesting.dating import ONE_DOUBTFUL, contradiction, date_attempts, known_on
from layers.nesting.due import WATCH, due_of_box
from layers.trail.settings import Settings
from tests.nesting.notebook import BLUEBIRD, SWALLOW, read, seen

SETTINGS = Settings("Alderbeck", "America/New_York")

# Hatched about 20 May; thirteen days old on 2 June, and 14 and 16 on 3 and 5 June: too large
# to open. "3" is thirteen with its first figure lost.
TEN_LOST = (
    seen("05-10", species=BLUEBIRD, eggs=2, young=0),
    seen("05-18", species=BLUEBIRD, eggs=5, young=0, eggs_warm="yes"),
    seen("05-25", species=BLUEBIRD, young=5, young_days=5),
    seen("06-02", species=BLUEBIRD, young=5, young_days=3),
)
# Six young, and eggs in the wrong column or of another box: no bird has forty.
FORTY_EGGS = (
    seen("05-01", species=BLUEBIRD, eggs=2, young=0),
    seen("05-10", species=BLUEBIRD, eggs=6, young=0, eggs_warm="yes"),
    seen("05-27", species=BLUEBIRD, young=6, young_days=7),
    seen("06-03", species=BLUEBIRD, young=6, eggs=40),
)
# Young of eight days do not leave within the week. Either they were taken and nobody saw it,
# and another bird laid four eggs at once, or "4" stands in the wrong column.
EGGS_FOR_YOUNG = (
    seen("05-13", species=BLUEBIRD, eggs=5, young=0, eggs_warm="yes"),
    seen("05-27", species=BLUEBIRD, young=5, young_days=8),
    seen("06-03", species=BLUEBIRD, eggs=4, young=0),
)
# A nest with young of ten days, and a row of zeros: robbed, or the row of another box.
ZEROS = (
    seen("05-13", species=BLUEBIRD, eggs=5, young=0, eggs_warm="yes"),
    seen("05-29", species=BLUEBIRD, young=5, young_days=10),
    seen("06-01", nest="lined cup", eggs=0, young=0),
)
# Young of the same age all along, once under a name of a bird whose young stay closed later.
OTHER_NAME = (
    seen("05-13", species=BLUEBIRD, eggs=5, young=0, eggs_warm="yes"),
    seen("05-26", species=BLUEBIRD, young=5, young_days=7),
    seen("06-01", species=SWALLOW, young=5, young_days=13),
)


def approach(visits: tuple[dict[str, Any], ...], day: str) -> tuple[str, str]:
    on = dt.date.fromisoformat(f"2026-{day}")
    found = due_of_box(read(*visits), "A1", on=on, settings=SETTINGS)
    return found.approach, found.approach_text


@pytest.mark.parametrize(
    ("visits", "days"),
    [
        (TEN_LOST, ("06-03", "06-05", "06-08")),
        (FORTY_EGGS, ("06-04", "06-06", "06-08")),
        (EGGS_FOR_YOUNG, ("06-03", "06-04", "06-06")),
        (ZEROS, ("06-02", "06-05")),
        (OTHER_NAME, ("06-02", "06-06")),
    ],
    ids=["a ten lost", "forty eggs", "eggs for young", "zeros", "another name"],
)
def test_a_slip_reopens_no_box(visits: tuple[dict[str, Any], ...], days: tuple[str, ...]) -> None:
    for day in days:
        assert approach(visits, day)[0] == WATCH, day


@pytest.mark.parametrize(
    ("visits", "later", "day"),
    [
        # A second look finds it empty too: the young are gone.
        (ZEROS, seen("06-04", nest="lined cup", eggs=0, young=0), "06-05"),
        # A fifth egg, and warm: another bird's clutch.
        (
            EGGS_FOR_YOUNG,
            seen("06-06", species=BLUEBIRD, eggs=5, young=0, eggs_warm="yes"),
            "06-07",
        ),
    ],
    ids=["zeros", "eggs for young"],
)
def test_a_later_visit_settles_it(
    visits: tuple[dict[str, Any], ...], later: dict[str, Any], day: str
) -> None:
    assert approach((*visits, later), day)[0] != WATCH


def test_the_visit_that_is_probably_wrong_is_named_with_what_would_fit() -> None:
    histories = read(*TEN_LOST)
    dates = date_attempts(histories)
    assert dates.how[0] == ONE_DOUBTFUL
    assert histories.visits.day[dates.doubtful[0]] == histories.visits.day[3]
    message = contradiction(histories, dates, 0)
    assert message is not None
    assert message.startswith("the age on 2 June reads 3; 13 would fit")
    hatch = dates.of(0).hatch
    assert hatch is not None
    assert abs((hatch.best - dt.date(2026, 5, 20)).days) <= 1


def test_two_ages_that_cannot_both_be_right_stay_two_stories() -> None:
    # Nothing else tells which of the two ages is wrong: hatching on 20 or on 30 May.
    histories = read(
        seen("06-01", species=BLUEBIRD, young=5, young_days=12),
        seen("06-02", species=BLUEBIRD, young=5, young_days=3),
    )
    dates = date_attempts(histories)
    hatch = dates.of(0).hatch
    assert hatch is not None
    assert hatch.days_95[0] <= dt.date(2026, 5, 21)
    assert hatch.days_95[1] >= dt.date(2026, 5, 29)
    closed = dates.of(0).closed
    assert closed is not None
    assert closed[0] <= dt.date(2026, 6, 2)
    assert closed[1] >= dt.date(2026, 6, 15)


def test_forty_eggs_are_named_and_not_counted() -> None:
    histories = read(*FORTY_EGGS)
    message = contradiction(histories, date_attempts(histories), 0)
    assert message is not None
    assert "40 eggs" in message
    assert "3 June" in message
    assert histories.rows[0, c.EGGS_MAX] == 6


def test_zeros_between_two_looks_at_the_same_warm_eggs_end_no_nest() -> None:
    # Five warm eggs on 11 and on 18 May: nobody lays five within three days of losing five.
    histories = read(
        seen("05-04", species=BLUEBIRD, eggs=3, young=0),
        seen("05-11", species=BLUEBIRD, eggs=5, young=0, eggs_warm="yes"),
        seen("05-14", nest="lined cup", eggs=0, young=0),
        seen("05-18", species=BLUEBIRD, eggs=5, young=0, eggs_warm="yes"),
    )
    assert len(histories) == 1
    dates = date_attempts(histories)
    message = contradiction(histories, dates, 0)
    assert message is not None
    assert message.startswith("the visit of 14 May records no egg")
    assert dates.of(0).first_egg is not None


def test_after_the_closed_days_a_keeper_watches_first() -> None:
    visits = TEN_LOST[:3]
    _, dates = known_on(read(*visits), dt.date(2026, 6, 30))
    closed = dates.of(0).closed
    assert closed is not None
    # Fourteen to twenty-one days in the nest: closed through the guide's longest.
    assert closed[1] >= dt.date(2026, 6, 8)
    after = closed[1] + dt.timedelta(days=1)
    how, message = approach(visits, f"{after:%m-%d}")
    assert how != WATCH
    assert message == "Watch first: if an adult still carries food, do not open."


def test_an_entry_that_agrees_is_not_called_wrong() -> None:
    histories = read(*TEN_LOST[:3])
    assert contradiction(histories, date_attempts(histories), 0) is None
