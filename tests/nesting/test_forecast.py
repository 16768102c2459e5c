"""What comes next, worked out by hand."""

import datetime as dt
from typing import Any

import pytest

from layers.nesting.dating import date_attempts
from layers.nesting.forecast import (
    BANDING,
    CHECK,
    CLOSED,
    CLUTCH_COMPLETE,
    FLEDGING,
    HATCHING,
    KINDS,
    Forecast,
    banding_days,
    forecast,
)
from layers.nesting.guide import Guide
from layers.nesting.histories import Histories
from layers.words import format_days
from tests.nesting.dating.nests import piper_guide, piper_histories
from tests.nesting.notebook import read, seen

# Hatched on 21 May for sure: eggs the day before, young that day.
HATCHED = (
    seen("05-20", eggs=5, young=0, eggs_warm="yes"),
    seen("05-21", eggs=0, young=5),
    # A second look: that the first saw young is no slip of the pen.
    seen("05-22", eggs=0, young=5),
)


def told(histories: Histories, on: str = "2026-05-22") -> dict[str, Forecast]:
    found = forecast(histories, date_attempts(histories), 0, on=dt.date.fromisoformat(on))
    return {one.kind: one for one in found}


def piper(*visits: dict[str, Any], guide: Guide | None = None) -> Histories:
    return piper_histories(*visits, guide=guide)


def test_closed_days_run_from_the_guides_age_to_the_last_day_before_fledging() -> None:
    found = told(piper(*HATCHED))
    closed, fledging = found[CLOSED], found[FLEDGING]
    # Closed from the age of 11 days; young leave at 16 to 20, one in forty a day later.
    assert closed.first == dt.date(2026, 6, 1)
    assert closed.last is not None
    assert closed.last == dt.date(2026, 6, 10)
    assert fledging.best == dt.date(2026, 6, 8)
    assert closed.chance > 0.9
    assert "Watch from a distance; do not open" in closed.text


def test_banding_days_are_those_of_the_guides_ages_and_for_licensed_banders_only() -> None:
    banding = told(piper(*HATCHED))[BANDING]
    # Ages 6 to 9 days after 21 May.
    assert (banding.first, banding.last) == (dt.date(2026, 5, 27), dt.date(2026, 5, 30))
    assert banding.chance > 0.99
    assert "licensed banders only" in banding.text


def test_banding_days_end_before_the_box_must_stay_closed() -> None:
    guide = piper_guide(closed_from_day=(8, 8))
    found = told(piper(*HATCHED, guide=guide))
    assert found[BANDING].last == dt.date(2026, 5, 28)
    assert found[CLOSED].first == dt.date(2026, 5, 29)


def test_the_box_can_be_checked_once_the_young_have_most_surely_left() -> None:
    check = told(piper(*HATCHED))[CHECK]
    assert check.last is None
    assert check.first == dt.date(2026, 6, 11)
    assert check.chance >= 0.95
    assert "local law" in check.text


def test_a_clutch_being_laid_has_all_to_come_in_order() -> None:
    histories = piper(
        seen("05-01", nest="lined cup", eggs=0, young=0), seen("05-04", eggs=3, young=0)
    )
    found = told(histories, on="2026-05-04")
    assert tuple(found) == KINDS
    assert found[CLUTCH_COMPLETE].best == dt.date(2026, 5, 6)
    # Hatching 13 or 14 days after the last egg.
    assert found[HATCHING].first == dt.date(2026, 5, 19)
    assert found[HATCHING].last == dt.date(2026, 5, 20)
    assert 0.7 < found[HATCHING].goes_on < 1.0
    assert found[FLEDGING].goes_on < found[HATCHING].goes_on


def test_what_is_before_the_day_is_left_out() -> None:
    found = told(piper(*HATCHED), on="2026-05-29")
    assert CLUTCH_COMPLETE not in found
    assert HATCHING not in found
    assert BANDING in found


def test_a_nest_that_is_over_has_nothing_to_come() -> None:
    over = seen("06-12", eggs=0, young=0, nest="lined cup", signs="flattened")
    assert told(piper(*HATCHED, over), on="2026-06-13") == {}


def test_a_nest_without_eggs_has_nothing_to_come_that_could_be_dated() -> None:
    assert told(read(seen("05-01", nest="shaped cup", eggs=0, young=0)), on="2026-05-02") == {}


def test_figures_from_memory_alone_are_marked() -> None:
    chickadee = [visit | {"species": "black-capped chickadee"} for visit in HATCHED]
    closed = told(read(*chickadee))[CLOSED]
    assert closed.memory
    assert "from memory" in closed.text
    assert not told(piper(*HATCHED))[CLOSED].memory


def test_young_that_leave_at_once_close_no_box() -> None:
    histories = read(seen("05-20", species="wood duck", eggs=11, young=0, eggs_warm="yes"))
    assert date_attempts(histories).of(0).closed is None
    assert CLOSED not in told(histories, on="2026-05-20")


@pytest.mark.parametrize(
    ("first", "last", "message"),
    [
        ("2026-06-03", "2026-06-03", "3 June"),
        ("2026-06-03", "2026-06-05", "3 to 5 June"),
        ("2026-05-30", "2026-06-02", "30 May to 2 June"),
    ],
)
def test_days_are_worded_as_people_say_them(first: str, last: str, message: str) -> None:
    assert format_days(dt.date.fromisoformat(first), dt.date.fromisoformat(last)) == message


def test_no_banding_days_are_given_where_the_box_must_be_closed_by_that_age() -> None:
    guide = piper_guide(closed_from_day=(6, 6))
    assert BANDING not in told(piper(*HATCHED, guide=guide))


def test_days_on_which_hardly_any_young_are_of_the_age_are_no_banding_days() -> None:
    # Hatching on any of some thirty days, of which only the first leaves the box open at ten.
    guide = piper_guide(banding_days=(10, 10), incubation_days=(13, 43))
    eggs = seen("05-01", nest="none", eggs=0, young=0), seen("05-06", eggs=5, young=0)
    assert BANDING not in told(piper(*eggs, guide=guide), on="2026-05-06")
    assert told(piper(*HATCHED, guide=guide))[BANDING].chance > 0.99


def test_the_banding_days_of_a_day_are_those_forecast() -> None:
    histories = piper(seen("05-17", eggs=5, young=0, eggs_warm="yes"), seen("05-23", young=5))
    dates = date_attempts(histories)
    window = told(histories)[BANDING]
    assert window.last is not None
    day, inside = window.first - dt.timedelta(days=20), []
    while day < window.last + dt.timedelta(days=20):
        found = banding_days(histories, dates, 0, on=day)
        assert found in (None, (window.first, window.last))
        inside += [day] if found else []
        day += dt.timedelta(days=1)
    assert (inside[0], inside[-1]) == (window.first, window.last)
    assert len(inside) == (window.last - window.first).days + 1
