"""Visits that cannot be what they say, and clutches that cannot be one: the biologist's words
first, then the program's.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from layers.nesting.dating import contradiction, date_attempts
from tests.nesting.notebook import BLUEBIRD, WREN, read, seen, told

SPARROW, CHICKADEE = "house sparrow", "black-capped chickadee"

LAID = (
    seen("04-15", nest="shaped cup", eggs=0, young=0, species=BLUEBIRD),
    seen("04-22", nest="lined cup", eggs=2, young=0, species=BLUEBIRD),
)
HATCHED = seen("05-13", eggs=0, young=4, young_days=6, species=BLUEBIRD)


@pytest.mark.parametrize(
    "mistaken",
    [
        # Seven young on the eighth day after the first egg, beside four eggs.
        seen("04-29", eggs=4, young=7, species=BLUEBIRD),
        # Four eggs, in the other column.
        seen("04-29", young=4, adult="flushed", species=BLUEBIRD),
    ],
    ids=["beside eggs", "the other column"],
)
def test_young_before_any_can_have_hatched_are_eggs(mistaken: dict[str, Any]) -> None:
    visits = (
        *LAID,
        mistaken,
        seen("05-05", eggs=4, young=0, eggs_warm="yes", species=BLUEBIRD),
        HATCHED,
    )
    histories = read(*visits)
    assert len(histories) == 1
    hatch = date_attempts(histories).of(0).hatch
    assert hatch is not None
    assert abs((hatch.best - dt.date(2026, 5, 7)).days) <= 1


def test_young_beside_unhatched_eggs_stay_young_though_the_eggs_lie_there_later() -> None:
    # Three of five hatched and were taken; the other two never will.
    nest = told(
        *LAID,
        seen("04-29", eggs=5, young=0, eggs_warm="yes", species=BLUEBIRD),
        seen("05-11", eggs=2, young=3, species=BLUEBIRD),
        seen("05-18", eggs=2, young=0, eggs_warm="no"),
    )
    assert [(one["fate"], one["young_max"]) for one in nest] == [("failed", 3)]


def test_a_box_cleaned_with_young_that_no_one_aged_had_none() -> None:
    # The young of five days on 6 May could not fly by 13 May: lost between the two visits, and
    # nobody cleans a box of living young.
    visits = (
        *LAID,
        seen("05-06", young=4, young_days=2, species=BLUEBIRD),
        seen("05-13", nest="lined cup", eggs=0, young=3, actions="cleaned"),
    )
    (nest,) = told(*visits)
    assert (nest["fate"], nest["cause"]) == ("failed", "not known")
    loss = date_attempts(read(*visits)).of(0).loss
    assert loss is not None
    assert loss.days_95[0] <= dt.date(2026, 5, 8)
    assert loss.best < dt.date(2026, 5, 13)


def test_eggs_cleaned_out_were_given_up_before() -> None:
    # Five eggs never felt warm for four weeks: given up, some day after the fifth was laid.
    visits = (
        *LAID,
        *(seen(day, eggs=5, species=BLUEBIRD) for day in ("04-29", "05-06", "05-13")),
        seen("05-20", eggs=5, actions="cleaned"),
    )
    (nest,) = told(*visits)
    assert (nest["fate"], nest["cause"]) == ("failed", "abandoned")
    loss = date_attempts(read(*visits)).of(0).loss
    assert loss is not None
    assert loss.days_95[0] <= dt.date(2026, 5, 2)


@pytest.mark.parametrize(
    "visits",
    [
        # Named once otherwise while a wren sat on her seven eggs.
        (
            seen("06-10", species=WREN, eggs=5, eggs_warm="yes"),
            seen("06-16", species=WREN, eggs=7, eggs_warm="yes"),
            seen("06-23", species="great crested flycatcher", adult="sitting", opened="yes"),
            seen("06-30", species=WREN, young=7),
        ),
        # The same four eggs within six days, under the name that they keep.
        (
            seen("04-14", species=CHICKADEE, eggs=4, young=0, adult="flushed"),
            seen("04-20", species=SPARROW, eggs=4, adult="flushed"),
            seen("04-28", species=SPARROW, young=4, young_days=2),
        ),
    ],
    ids=["a sitting parent", "the same eggs"],
)
def test_a_name_written_once_is_no_takeover(visits: tuple[dict[str, Any], ...]) -> None:
    (nest,) = told(*visits)
    assert nest["species"] == visits[-1]["species"]


SECOND_CLUTCHES = {
    # Young of 30 April had left by 28 May, when a parent sat: on another clutch.
    "a parent sits after the young": (
        seen("04-17", species=BLUEBIRD, eggs=5, eggs_warm="yes"),
        seen("04-30", species=BLUEBIRD, young=5),
        seen("05-28", species=BLUEBIRD, adult="sitting", opened="no"),
    ),
    # One egg beside three young of ten days, and five warm ones two weeks later.
    "more eggs than were left": (
        seen("05-04", species=BLUEBIRD, eggs=5, young=0, eggs_warm="yes"),
        seen("05-19", species=BLUEBIRD, eggs=1, young=3, young_days=10),
        seen("06-03", species=BLUEBIRD, eggs=5, eggs_warm="yes"),
    ),
    # Five eggs by 26 April hatch by the middle of May; young of four days on 27 May did not.
    "young too late for the eggs": (
        seen("04-26", species=BLUEBIRD, eggs=5),
        seen("05-09", species=BLUEBIRD, eggs=4, adult="flushed"),
        seen("05-27", species=BLUEBIRD, young=4, young_days=4),
    ),
}


@pytest.mark.parametrize("visits", SECOND_CLUTCHES.values(), ids=SECOND_CLUTCHES)
def test_what_cannot_be_one_clutch_is_two(visits: tuple[dict[str, Any], ...]) -> None:
    assert len(told(*visits)) == 2


def test_one_age_that_lost_its_ten_makes_no_second_clutch() -> None:
    # Weekly looks at five warm eggs leave no time for another clutch: the 3 was a 13.
    (nest,) = told(
        *LAID,
        seen("04-29", species=BLUEBIRD, eggs=5, young=0, eggs_warm="yes"),
        seen("05-06", species=BLUEBIRD, eggs=5, young=0, eggs_warm="yes"),
        seen("05-20", species=BLUEBIRD, young=5, young_days=3),
    )
    assert nest["eggs_max"] == 5


def test_the_first_count_may_be_the_slip() -> None:
    # Two eggs on 3 May, four on 5 May, five on 9 May: one a day, the first about 2 May. Then
    # three in the shaped cup of 24 April were none.
    histories = read(
        seen("04-17", nest="loose material", eggs=0, young=0, species=BLUEBIRD),
        seen("04-24", nest="shaped cup", eggs=3, young=0, species=BLUEBIRD),
        seen("05-03", nest="lined cup", eggs=2, young=0, species=BLUEBIRD),
        seen("05-05", nest="lined cup", eggs=4, young=0, species=BLUEBIRD),
        seen("05-09", eggs=5, young=0, eggs_warm="yes", species=BLUEBIRD),
    )
    dates = date_attempts(histories)
    first_egg = dates.of(0).first_egg
    assert first_egg is not None
    assert abs((first_egg.best - dt.date(2026, 5, 2)).days) <= 1
    message = contradiction(histories, dates, 0)
    assert message is not None
    assert "24 April" in message


@pytest.mark.parametrize(
    "between",
    [
        # Young of the first clutch, whose age nobody judged, and five warm eggs after them.
        (
            seen("05-31", species=BLUEBIRD, eggs=0, young=5),
            seen("06-20", species=BLUEBIRD, eggs=5, eggs_warm="yes"),
        ),
        # The five were given up, cold on 31 May; two fresh ones lie in their place.
        (
            seen("05-31", species=BLUEBIRD, eggs=5, eggs_warm="no"),
            seen("06-20", species=BLUEBIRD, eggs=2),
        ),
    ],
    ids=["hatched", "given up"],
)
def test_young_of_a_later_clutch_do_not_part_an_earlier_one(
    between: tuple[dict[str, Any], ...],
) -> None:
    nests = told(
        seen("05-10", species=BLUEBIRD, eggs=5),
        seen("05-20", species=BLUEBIRD, eggs=5),
        *between,
        seen("06-29", species=BLUEBIRD, eggs=5, eggs_warm="yes"),
        seen("07-09", species=BLUEBIRD, eggs=0, young=4, young_days=4),
    )
    assert len(nests) == 2
