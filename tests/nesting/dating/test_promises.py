"""What moves dates and what does not, and nests that are hard to date."""

import datetime as dt
import random
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layers.nesting.dating import (
    CANNOT_BE_DATED,
    DATED,
    NO_EGGS_SEEN,
    ONE_DOUBTFUL,
    contradiction,
    date_attempts,
    redated,
)
from layers.nesting.guide import standard_guide
from layers.nesting.histories import Histories, read_histories
from layers.trail.coding import code_visits
from layers.trail.words import ACTIONS, SIGNS
from tests.nesting.dating.nests import dates_of, piper_histories, same_dates
from tests.nesting.notebook import BLUEBIRD, coded, read, seen

SEASON = (
    seen("04-20", nest="lined cup", eggs=0, young=0),
    seen("05-04", species=BLUEBIRD, eggs=3, young=0),
    seen("05-11", species=BLUEBIRD, eggs=5, young=0, eggs_warm="yes"),
    seen("05-25", species=BLUEBIRD, young=4, young_days=4),
    seen("06-12", nest="lined cup", eggs=0, young=0, signs="flattened"),
)


def dated(*visits: dict[str, Any], attempt: int = 0, season_starts: str = "01-01") -> Any:
    return dates_of(read(*visits, season_starts=season_starts), attempt)


@given(st.permutations(SEASON))
@settings(max_examples=20)
def test_the_order_in_which_visits_come_changes_nothing(visits: list[dict[str, Any]]) -> None:
    assert same_dates(date_attempts(read(*visits)), date_attempts(read(*SEASON)))


@given(st.integers(13, 60))
@settings(max_examples=20)
def test_a_later_visit_that_shows_nothing_of_a_nest_does_not_move_its_dates(days: int) -> None:
    later = dt.date(2026, 6, 12) + dt.timedelta(days=days)
    more = seen(later.isoformat(), nest="none", eggs=0, young=0)
    assert same_dates(date_attempts(read(*SEASON, more)), date_attempts(read(*SEASON)))


@given(
    st.sampled_from(("America/New_York", "Australia/Lord_Howe", "Asia/Kathmandu", "Pacific/Apia")),
    st.integers(0, 24 * 60 - 1),
)
@settings(max_examples=30)
def test_time_zones_and_clock_changes_shift_no_day(zone: str, minute: int) -> None:
    # Both clock changes of the northern and the southern year lie within these visits.
    moved = []
    for visit in SEASON:
        local = dt.datetime.combine(visit["seen_on"], dt.time(), ZoneInfo(zone))
        moment = (local + dt.timedelta(minutes=minute)).astimezone(dt.UTC)
        moved.append(visit | {"seen_at": moment})
    visits = code_visits(
        moved, boxes=["A1"], timezone=ZoneInfo(zone), signs_words=SIGNS, actions_words=ACTIONS
    )
    there = read_histories(visits, standard_guide(), season_starts="01-01")
    assert same_dates(date_attempts(there), date_attempts(read(*SEASON)))


def test_a_nest_moved_by_any_number_of_days_has_its_dates_moved_by_as_many() -> None:
    shifted = [v | {"seen_on": v["seen_on"] + dt.timedelta(days=200)} for v in SEASON]
    here = date_attempts(read(*SEASON))
    there = date_attempts(read(*shifted, season_starts="07-01"))
    assert np.array_equal(there.best, here.best + 200)
    assert there.ends == pytest.approx(here.ends + 200, nan_ok=True)


def test_one_box_dated_anew_is_the_same_as_all_dated_anew() -> None:
    def boxes(extra: bool) -> list[dict[str, Any]]:
        odd = seen("05-12", eggs=0, young=0, nest="shaped cup"), seen("05-14", eggs=5, young=0)
        rows = [visit | {"box": box} for box in ("A1", "B2") for visit in SEASON]
        rows += [visit | {"box": "C3"} for visit in odd]
        more = seen("05-26", young=4, young_days=12)
        return [*rows, more | {"box": "A1"}] if extra else rows

    def histories(rows: list[dict[str, Any]]) -> Histories:
        return read_histories(coded(*rows), standard_guide(), season_starts="01-01")

    before, after = histories(boxes(False)), histories(boxes(True))
    changed = redated(date_attempts(before), before, after, "A1")
    expected = date_attempts(after)
    assert same_dates(changed, expected)
    assert np.array_equal(changed.doubtful, expected.doubtful)
    assert np.array_equal(changed.closed, expected.closed)


def test_a_nest_without_eggs_has_no_dates() -> None:
    dates = dated(
        seen("04-20", nest="loose material", eggs=0), seen("04-27", nest="shaped cup", eggs=0)
    )
    assert dates.how == NO_EGGS_SEEN
    assert dates.first_egg is None
    assert dates.fledged is None


def test_a_nest_seen_once_is_dated_widely() -> None:
    dates = dated(seen("05-11", species=BLUEBIRD, eggs=5, young=0, eggs_warm="yes"))
    first, last = dates.first_egg.days_95
    assert first <= dt.date(2026, 4, 25)
    assert last == dt.date(2026, 5, 7)
    assert dates.hatch.days_95[0] > dt.date(2026, 5, 11)
    assert 0.5 < dates.fledged < 0.95


def test_a_nest_found_with_young_is_dated_by_their_age() -> None:
    dates = dated(seen("05-25", species=BLUEBIRD, young=4, young_days=4))
    assert dates.hatch.best == dt.date(2026, 5, 21)
    assert dates.hatched > 0.999
    # 12 to 15 days of sitting and three or four of laying before it.
    first, last = dates.first_egg.days_80
    assert dt.date(2026, 5, 1) <= first < last <= dt.date(2026, 5, 8)


def test_a_nest_never_seen_with_eggs_is_dated_by_its_sitting_parent() -> None:
    dates = dated(
        seen("05-01", nest="lined cup", eggs=0, young=0, species=BLUEBIRD),
        seen("05-15", species=BLUEBIRD, adult="sitting"),
    )
    assert dates.how == DATED
    assert dt.date(2026, 5, 2) <= dates.first_egg.best <= dt.date(2026, 5, 13)


def test_one_strange_egg_among_them_does_not_make_the_visits_contradict() -> None:
    # A cowbird's egg, counted with the others once and not the next time.
    dates = dated(
        seen("05-01", nest="lined cup", eggs=0, young=0),
        seen("05-05", species=BLUEBIRD, eggs=4, young=0, note="one of them a cowbird's"),
        seen("05-12", species=BLUEBIRD, eggs=4, young=0, eggs_warm="yes"),
    )
    assert dates.how == DATED
    assert dt.date(2026, 5, 2) <= dates.first_egg.best <= dt.date(2026, 5, 3)


def test_a_clutch_laid_again_in_the_same_cup_has_dates_of_its_own() -> None:
    visits = (
        *SEASON[:3],
        seen("05-18", species=BLUEBIRD, eggs=1, young=0),
        seen("05-25", species=BLUEBIRD, eggs=4, young=0),
    )
    histories = read(*visits)
    assert len(histories) == 2
    first, second = dates_of(histories, 0), dates_of(histories, 1)
    assert first.fledged == 0.0
    assert first.loss is not None
    assert dt.date(2026, 5, 12) <= first.loss.days_95[0] <= first.loss.days_95[1]
    assert second.first_egg is not None
    assert second.first_egg.best == dt.date(2026, 5, 18)


def test_a_season_over_the_turn_of_the_year_is_dated_like_any_other() -> None:
    dates = dated(
        seen("2025-12-20", nest="lined cup", eggs=0, young=0),
        seen("2025-12-29", species=BLUEBIRD, eggs=3, young=0),
        seen("2026-01-05", species=BLUEBIRD, eggs=5, young=0, eggs_warm="yes"),
        season_starts="07-01",
    )
    assert dates.first_egg.best == dt.date(2025, 12, 27)
    assert dt.date(2026, 1, 11) <= dates.hatch.best <= dt.date(2026, 1, 16)


def test_warm_eggs_long_overdue_are_not_stated_to_have_hatched() -> None:
    dates = dated(
        seen("05-01", nest="lined cup", eggs=0, young=0),
        seen("05-08", species=BLUEBIRD, eggs=5, young=0, eggs_warm="yes"),
        seen("05-26", species=BLUEBIRD, eggs=5, young=0, eggs_warm="yes"),
    )
    assert dates.how == DATED
    # That the warm eggs were young, or another box's, is hardly a chance.
    assert dates.hatched < 0.02
    assert dates.hatch is None
    assert dates.fledge is None


def test_a_visit_that_cannot_be_is_named_with_the_days_it_is_off() -> None:
    histories = read(
        seen("05-01", nest="lined cup", eggs=0, young=0, species=BLUEBIRD),
        seen("05-04", species=BLUEBIRD, eggs=3, young=0),
        seen("05-11", species=BLUEBIRD, eggs=5, young=0, eggs_warm="yes"),
        # Three eggs on 4 May: five by 6 May, hatching on 18 May at the earliest. On 23 May the
        # young are five days old at most, and an age is right within five days.
        seen("05-23", species=BLUEBIRD, young=5, young_days=13),
        seen("05-24", species=BLUEBIRD, young=5, young_days=6),
    )
    dates = date_attempts(histories)
    assert dates.how[0] == ONE_DOUBTFUL
    message = contradiction(histories, dates, 0)
    assert message is not None
    assert message.startswith("the age on 23 May reads 13; 3 would fit")
    hatch = dates.of(0).hatch
    assert hatch is not None
    assert dt.date(2026, 5, 17) <= hatch.best <= dt.date(2026, 5, 20)


def test_eggs_laid_faster_than_one_bird_can_are_named() -> None:
    histories = piper_histories(
        seen("05-01", nest="lined cup", eggs=0, young=0), seen("05-03", eggs=5, young=0)
    )
    dates = date_attempts(histories)
    assert dates.how[0] == ONE_DOUBTFUL
    message = contradiction(histories, dates, 0)
    assert message is not None
    assert "1 May records no egg" in message or "eggs on 3 May do not fit" in message


def test_counts_that_no_clutch_gives_leave_a_nest_widely_dated() -> None:
    visits = [
        seen("05-01", nest="lined cup", eggs=0, young=0),
        seen("05-03", eggs=9, young=0),
        seen("05-05", eggs=12, young=0),
    ]
    random.Random(1).shuffle(visits)
    histories = piper_histories(*visits)
    dates = date_attempts(histories).of(0)
    assert dates.how != CANNOT_BE_DATED
    assert dates.first_egg is not None
    first, last = dates.first_egg.days_95
    assert first <= dt.date(2026, 5, 2)
    # Both counts are slips: the first may stand for none.
    assert last <= dt.date(2026, 5, 5)


def test_visits_that_agree_have_no_contradiction() -> None:
    histories = read(*SEASON)
    assert contradiction(histories, date_attempts(histories), 0) is None


def test_a_trail_without_visits_has_no_dates() -> None:
    assert len(date_attempts(read())) == 0
