"""What a feature request asks, read from its query string, and the form of the answer."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layers.errors import BadValue
from layers.trail.exporting.collection import ALWAYS, FOR_EVER, day_minute
from server.ogc.forms import form_of
from server.ogc.items_query import LIMIT_MOST, only, read_bbox, read_datetime, read_items_query

NEW_YORK = ZoneInfo("America/New_York")


def minutes(text: str) -> tuple[int, int]:
    return read_datetime(text, zone=NEW_YORK)


def test_a_day_is_a_day_of_the_trails_own_clock() -> None:
    first = day_minute("2026-05-14")
    assert minutes("2026-05-14") == (first, first + 1439)


def test_a_moment_is_turned_to_the_trails_own_clock() -> None:
    at_ten = day_minute("2026-05-14") + 600
    for text in (
        "2026-05-14T14:00:00Z",
        "2026-05-14t16:00:30.5+02:00",
        "2026-05-14T10:00:59-04:00",
    ):
        assert minutes(text) == (at_ten, at_ten)


def test_the_clock_change_moves_a_moment_as_it_moves_people() -> None:
    assert minutes("2026-03-08T06:59:00Z")[0] == day_minute("2026-03-08") + 119
    assert minutes("2026-03-08T07:00:00Z")[0] == day_minute("2026-03-08") + 180


def test_intervals_may_be_open_at_either_end() -> None:
    day = minutes("2026-05-14")
    assert minutes("2026-05-14/..") == (day[0], FOR_EVER)
    assert minutes("2026-05-14/") == (day[0], FOR_EVER)
    assert minutes("../2026-05-14") == (ALWAYS, day[1])
    assert minutes("/2026-05-14") == (ALWAYS, day[1])
    assert minutes("2026-05-14/2026-05-14") == day


def test_a_day_with_a_letter_behind_is_read_as_gdal_means_it() -> None:
    assert minutes("2026-05-14T/..") == minutes("2026-05-14/..")


@pytest.mark.parametrize(
    "text",
    [
        "2026-02-30",
        "2026-05-14T10:00:00",
        "2026-05-14 10:00:00Z",
        "2026-05-14T25:00:00Z",
        "14/5",
        "2026-05-14/2026-05-15/2026-05-16",
        "٢٠٢٦-05-14",
        "0001-01-01T00:00:00+23:00",
    ],
)
def test_another_text_is_no_time(text: str) -> None:
    with pytest.raises(BadValue, match=r"joined by /, with \.\. where open"):
        minutes(text)


def test_an_interval_that_ends_before_it_begins_is_refused() -> None:
    with pytest.raises(BadValue, match="begins before it ends"):
        minutes("2026-05-14/2026-05-13")


def test_bounds_are_four_numbers_or_six_with_heights() -> None:
    assert read_bbox("-1.5,2,+3e0,.5e1") == (-1.5, 2, 3, 5)
    assert read_bbox("1,2,0,3,4,100") == (1, 2, 3, 4)
    assert read_bbox("170,0,-170,1") == (170, 0, -170, 1)


@pytest.mark.parametrize("text", ["1,2,3", "1,2,3,4,", "1;2;3;4", "1_0,2,30,4", "0,0,1e999,1"])
def test_other_texts_are_no_bounds(text: str) -> None:
    with pytest.raises(BadValue, match="column bbox"):
        read_bbox(text)


@given(st.text(max_size=40))
def test_any_text_is_bounds_and_a_time_or_is_refused_in_words(text: str) -> None:
    for read in (read_bbox, minutes):
        try:
            found = read(text)
        except BadValue as error:
            assert "Expected" in str(error)
        else:
            assert all(isinstance(number, float | int) for number in found)


@given(st.datetimes(datetime(1900, 1, 2), datetime(2100, 1, 1), timezones=st.timezones()))
def test_every_moment_is_read_as_the_minute_on_the_wall(moment: datetime) -> None:
    whole = moment.replace(microsecond=0)
    offset = whole.utcoffset()
    assert offset is not None
    if offset.total_seconds() % 60:
        return
    wall = whole.astimezone(NEW_YORK)
    expected = day_minute(wall.date().isoformat()) + wall.hour * 60 + wall.minute
    assert minutes(whole.isoformat()) == (expected, expected)


def test_a_limit_above_the_most_is_taken_for_the_most() -> None:
    assert read_items_query({"limit": "99999999"}, zone=NEW_YORK).limit == LIMIT_MOST


def test_a_parameter_that_is_not_known_or_comes_twice_is_refused() -> None:
    with pytest.raises(BadValue, match="parameter of f, limit, got 'colour'"):
        only([("colour", "red")], ["limit", "f"])
    with pytest.raises(BadValue, match="'f' twice"):
        only([("f", "json"), ("f", "html")], ["f"])


@pytest.mark.parametrize(
    ("accept", "form"),
    [
        ("", "json"),
        ("*/*", "json"),
        ("text/html,application/xhtml+xml,*/*;q=0.8", "html"),
        ("text/html;q=0.5, application/geo+json", "json"),
        ("application/json;q=0.1, text/html;q=0.2", "html"),
        ("text/html;q=0, application/json", "json"),
        ("application/vnd.oai.openapi+json;version=3.0, application/json", "json"),
        ("image/png", None),
        ("text/html;q=0", None),
    ],
)
def test_the_accept_header_decides_where_no_format_is_named(accept: str, form: str | None) -> None:
    assert form_of(None, accept) == form


def test_the_requested_form_rules() -> None:
    assert form_of("html", "application/json") == "html"
    with pytest.raises(BadValue, match="one of json, html, got 'xml'"):
        form_of("xml", "*/*")
