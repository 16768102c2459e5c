"""Days and times: read where one reading fits, refused where two do."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layers.errors import BadValue
from layers.trail.importing.dates import (
    Clock,
    DayOrder,
    day,
    read_clock,
    read_day,
    resolve_moment,
    stored_moment,
    utc_text,
)
from tests.trail.importing.imports import having

NEW_YORK = ZoneInfo("America/New_York")
MAY_14 = dt.date(2026, 5, 14)
DAYS = st.dates(dt.date(1906, 1, 1), dt.date(2200, 12, 31))


@pytest.mark.parametrize(
    "cell",
    [
        "2026-05-14",
        "2026/5/14",
        "2026.05.14",
        "20260514",
        "14/05/2026",
        "14.5.2026",
        "05/14/2026",
        "14 May 2026",
        "14-May-2026",
        "14th may 2026",
        "May 14, 2026",
        "May 14 2026",
        MAY_14,
        dt.datetime(2026, 5, 14),
        "2026-05-14 00:00:00",
        "2026-05-14T00:00:00",
    ],
)
def test_a_day_with_one_reading_is_read_without_being_told(cell: object) -> None:
    assert read_day(cell, order=None) == (MAY_14, None)


@pytest.mark.parametrize("cell", ["03/04/2026", "3.4.2026", "03-04-2026"])
def test_a_day_with_two_readings_is_refused_until_told(cell: str) -> None:
    with pytest.raises(BadValue, match=f"day-first or month-first, got '{cell}'"):
        day(cell, order=None)
    assert day(cell, order="day-first") == dt.date(2026, 4, 3)
    assert day(cell, order="month-first") == dt.date(2026, 3, 4)


def test_a_day_of_which_both_readings_agree_is_read() -> None:
    assert day("05/05/2026", order=None) == dt.date(2026, 5, 5)


@pytest.mark.parametrize(
    ("cell", "order", "expected"),
    [
        ("05/14/2026", "day-first", "a day-first date like 14/05/2026"),
        ("14/05/2026", "month-first", "a month-first date like 05/14/2026"),
        ("14/5/26", None, "a year of four digits"),
        ("2026-02-30", None, "that is in the calendar"),
        ("31/31/2026", None, "that is in the calendar"),
        ("14 Mai 2026", None, "a date like 2026-05-14"),
        ("14/5", None, "a date like 2026-05-14"),
        ("2026112", None, "a date like 2026-05-14"),
        ("202611", None, "a date like 2026-05-14"),
        ("yesterday", None, "a date like 2026-05-14"),
        (46156, None, "got the number 46156"),
        (True, None, "got the number True"),
        ("1900-01-01", None, "a date from 1906 on"),
        (dt.datetime(1900, 1, 5), None, "a date from 1906 on"),  # the number 5 shown as a day
        (dt.date(1905, 7, 18), None, "a date from 1906 on"),  # the number 2026 shown as a day
        (dt.date(26, 5, 14), None, "a date from 1906 on"),
        ("9999-12-31", None, "a date from 1906 on"),
    ],
)
def test_what_is_no_sound_day_is_refused(
    cell: object, order: DayOrder | None, expected: str
) -> None:
    with pytest.raises(BadValue, match=expected):
        day(cell, order=order)


def test_a_day_after_today_is_refused() -> None:
    with pytest.raises(BadValue, match="a date not after 2026-05-13, today, got '2026-05-14'"):
        day("2026-05-14", order=None, latest=dt.date(2026, 5, 13))
    assert day("2026-05-14", order=None, latest=MAY_14) == MAY_14


@given(DAYS, st.sampled_from(["%Y-%m-%d", "%Y/%m/%d", "%Y%m%d", "%d %B %Y", "%b %d, %Y"]))
def test_any_day_comes_back_from_the_forms_with_one_reading(found: dt.date, form: str) -> None:
    assert day(found.strftime(form), order=None) == found


@given(DAYS, st.sampled_from("-/."))
def test_any_day_comes_back_when_the_order_is_told(found: dt.date, mark: str) -> None:
    assert day(found.strftime(f"%d{mark}%m{mark}%Y"), order="day-first") == found
    assert day(found.strftime(f"%m{mark}%d{mark}%Y"), order="month-first") == found


@given(st.text())
def test_any_text_is_a_day_or_refused(text: str) -> None:
    try:
        assert read_day(text, order=None)[0].year >= 1906
    except BadValue as error:
        assert "Expected" in str(error)


@pytest.mark.parametrize(
    "cell",
    [
        "8:30",
        "08:30",
        "08.30",
        "0830",
        "830",
        "8h30",
        "8:30 am",
        "8:30 a.m.",
        "08:30:00",
        dt.time(8, 30),
        dt.timedelta(hours=8, minutes=30),
    ],
)
def test_a_time_is_read_in_the_usual_forms(cell: object) -> None:
    assert read_clock(cell) == Clock(dt.time(8, 30))


@pytest.mark.parametrize(
    ("cell", "hour"), [("12:00 am", 0), ("12:00 pm", 12), ("1:00 PM", 13), ("11:00pm", 23)]
)
def test_noon_and_midnight_are_told_apart(cell: str, hour: int) -> None:
    assert read_clock(cell) == Clock(dt.time(hour))


@pytest.mark.parametrize(
    ("cell", "hours"), [("08:30Z", 0), ("8:30 UTC", 0), ("08:30+02:00", 2), ("08:30-0500", -5)]
)
def test_a_time_keeps_the_zone_it_is_written_with(cell: str, hours: int) -> None:
    found = read_clock(cell)
    assert found.zone is not None
    assert found.zone.utcoffset(None) == dt.timedelta(hours=hours)


@pytest.mark.parametrize(
    "cell",
    [
        "25:00",
        "8:61",
        "13:00 pm",
        "morning",
        "8",
        0.354,
        "08:30 EST",
        "8:30+15:00",
        "8:30+02:75",
        dt.timedelta(hours=30),
    ],
)
def test_what_is_no_sound_time_is_refused(cell: object) -> None:
    with pytest.raises(BadValue, match=r"a time like 08:30|a zone from"):
        read_clock(cell)


def test_a_time_without_a_zone_is_the_trails() -> None:
    found = resolve_moment(MAY_14, Clock(dt.time(8, 30)), NEW_YORK)
    assert (found.day, found.at, found.note) == (
        MAY_14,
        dt.datetime(2026, 5, 14, 12, 30, tzinfo=dt.UTC),
        None,
    )


def test_a_day_without_a_time_has_no_moment() -> None:
    found = resolve_moment(MAY_14, None, NEW_YORK)
    assert (found.day, found.at) == (MAY_14, None)


def test_a_moment_with_a_zone_falls_on_the_trails_local_day() -> None:
    found_day, clock = read_day("2026-05-15T02:30:00Z", order=None)
    found = resolve_moment(found_day, clock, NEW_YORK)
    assert found.day == MAY_14
    assert found.at == dt.datetime(2026, 5, 15, 2, 30, tzinfo=dt.UTC)
    assert found.note is not None
    assert "is 2026-05-14 in America/New_York" in found.note


def test_a_time_that_never_was_is_refused() -> None:
    expected = having("on the clocks of America/New_York, got 02:30 on 2026-03-08")
    with pytest.raises(BadValue, match=expected):
        resolve_moment(dt.date(2026, 3, 8), Clock(dt.time(2, 30)), NEW_YORK)


def test_of_a_time_that_was_twice_the_first_is_taken_and_noted() -> None:
    found = resolve_moment(dt.date(2026, 11, 1), Clock(dt.time(1, 30)), NEW_YORK)
    assert found.at == dt.datetime(2026, 11, 1, 5, 30, tzinfo=dt.UTC)
    assert found.note is not None
    assert "was twice" in found.note


@given(
    st.datetimes(dt.datetime(1970, 1, 1), dt.datetime(2037, 1, 1)).map(
        lambda at: at.replace(microsecond=0)
    ),
    st.sampled_from(["America/New_York", "Europe/Berlin", "Australia/Lord_Howe", "Asia/Kathmandu"]),
)
def test_any_moment_comes_back_from_its_local_day_and_time(at: dt.datetime, name: str) -> None:
    zone = ZoneInfo(name)
    local = at.replace(tzinfo=dt.UTC).astimezone(zone)
    found = resolve_moment(local.date(), Clock(local.time()), zone)
    assert found.day == local.date()
    # The second of two moments of one clock time is the only one that may differ.
    assert found.at == at.replace(tzinfo=dt.UTC) or (local.fold == 1 and found.note is not None)


def test_a_moment_is_stored_as_a_geopackage_wants_it() -> None:
    assert stored_moment("2026-05-14T08:30:00+02:00") == "2026-05-14T06:30:00.000Z"
    moment = dt.datetime(2026, 5, 14, 8, 30, 1, 250_000, tzinfo=dt.UTC)
    assert utc_text(moment) == "2026-05-14T08:30:01.250Z"


@pytest.mark.parametrize(
    "cell", ["2026-05-14T08:30", "soon", 5, "0001-01-01T00:00Z", "9999-12-31T23:00-05:00"]
)
def test_a_moment_to_store_needs_its_zone(cell: object) -> None:
    with pytest.raises(BadValue, match="a moment with its zone"):
        stored_moment(cell)
