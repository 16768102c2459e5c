"""Which rows of a collection meet what is asked."""

from __future__ import annotations

from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from layers.errors import BadValue, NotKnown
from layers.trail.exporting.collection import (
    ALWAYS,
    FOR_EVER,
    Collection,
    day_minute,
    days_held,
    in_memory,
)
from layers.trail.field import column

FIELDS = (
    column("name", "line", "a name"),
    column("level", "whole", "a whole number"),
    column("size_m", "number", "a size"),
)
NEW_YORK = ZoneInfo("America/New_York")


def collection(
    shapes: list[Any], *, times: list[tuple[str | None, str | None]] | None = None
) -> Collection:
    """A collection of named shapes; `times` are first days and first days no longer."""
    size = len(shapes)
    since, until = (
        (None, None)
        if times is None
        else days_held([first for first, _ in times], [gone for _, gone in times])
    )
    frame = pd.DataFrame(
        {
            "name": [f"row {at}" for at in range(size)],
            "level": [None, *map(float, range(1, size))][:size],
            "size_m": [at / 2 for at in range(size)],
        }
    )
    filled = np.empty(size, object)
    filled[:] = shapes
    return in_memory(
        frame,
        name="things",
        title="Things",
        note="Things.",
        geometry="POINT",
        fields=FIELDS,
        zone=NEW_YORK,
        ids=list(range(10, 10 + size)),
        shapes=filled,
        since=since,
        until=until,
        picked=("name", "level", "size_m"),
    )


def test_bounds_choose_by_true_intersection_and_not_by_envelope() -> None:
    bent = shapely.LineString([(0, 0), (0, 10), (10, 10)])
    assert collection([bent]).chosen(bbox=(5, 1, 9, 5)).tolist() == []
    assert collection([bent]).chosen(bbox=(-1, 1, 1, 5)).tolist() == [0]


def test_bounds_may_cross_the_antimeridian() -> None:
    points = collection([shapely.Point(179.5, 0), shapely.Point(-179.5, 0), shapely.Point(0, 0)])
    assert points.chosen(bbox=(179, -1, -179, 1)).tolist() == [0, 1]


def test_a_row_without_a_shape_or_with_an_empty_one_meets_any_bounds() -> None:
    rows = collection([None, shapely.Point(), shapely.Point(0, 0)])
    assert rows.chosen(bbox=(5, 5, 6, 6)).tolist() == [0, 1]
    assert rows.bounds == (0, 0, 0, 0)


def test_rows_without_any_shape_have_no_bounds() -> None:
    assert collection([None]).bounds is None
    assert collection([]).bounds is None


def test_times_choose_what_holds_in_any_part_of_them() -> None:
    held = collection(
        [None] * 3, times=[("2026-05-01", "2026-06-01"), ("2026-06-01", None), (None, "2026-05-01")]
    )
    may = day_minute("2026-05-01"), day_minute("2026-06-01") - 1
    assert held.chosen(minutes=may).tolist() == [0]
    assert held.chosen(minutes=(may[0] - 1, may[1] + 1)).tolist() == [0, 1, 2]
    assert held.chosen(minutes=(ALWAYS, FOR_EVER)).tolist() == [0, 1, 2]


def test_rows_without_a_time_meet_any_time() -> None:
    assert collection([None]).chosen(minutes=(0, 0)).tolist() == [0]


def test_the_interval_is_given_in_universal_time_with_open_ends() -> None:
    held = collection([None] * 2, times=[("2026-01-01", "2026-07-02"), ("2026-03-01", None)])
    assert held.interval == ("2026-01-01T05:00:00Z", None)
    ended = collection([None], times=[(None, "2026-07-02")])
    assert ended.interval == (None, "2026-07-02T03:59:00Z")
    assert collection([], times=[]).interval is None


def test_columns_choose_by_text_and_by_number() -> None:
    rows = collection([None] * 4)
    assert rows.chosen(where={"name": "row 2"}).tolist() == [2]
    assert rows.chosen(where={"size_m": "1.50"}).tolist() == [3]
    assert rows.chosen(where={"level": "1", "name": "row 2"}).tolist() == []


def test_a_text_where_a_number_belongs_is_refused() -> None:
    with pytest.raises(BadValue, match="a number, got 'tall', column level"):
        collection([None]).chosen(where={"level": "tall"})
    with pytest.raises(NotKnown, match="Expected a column of name, level, size_m, got 'colour'"):
        collection([None]).chosen(where={"colour": "red"})


def test_missing_cells_are_none_and_whole_numbers_are_whole() -> None:
    rows = collection([None] * 3).read(np.array([0, 2]))
    assert [row.values["level"] for row in rows] == [None, 2]
    assert isinstance(rows[1].values["level"], int)
    assert [row.id for row in rows] == [10, 12]


def test_a_row_is_found_by_its_id() -> None:
    rows = collection([None] * 3)
    assert rows.row("11").values["name"] == "row 1"
    with pytest.raises(NotKnown, match="id of one of things, got '99'"):
        rows.row("99")


def test_outer_rings_run_counterclockwise() -> None:
    clockwise = shapely.Polygon([(0, 0), (0, 1), (1, 1), (1, 0)])
    given_out = collection([clockwise]).row("10").shape
    assert given_out.exterior.is_ccw
    assert given_out.equals(clockwise)


spots = st.tuples(st.integers(-180, 180), st.integers(-90, 90))


@given(st.lists(spots, max_size=12), spots, spots)
def test_bounds_choose_as_plain_comparison_does(
    places: list[tuple[int, int]], one: tuple[int, int], other: tuple[int, int]
) -> None:
    west, east = one[0], other[0]
    south, north = sorted((one[1], other[1]))
    expected = [
        at
        for at, (lon, lat) in enumerate(places)
        if south <= lat <= north
        and (west <= lon <= east if west <= east else lon >= west or lon <= east)
    ]
    rows = collection([shapely.Point(place) for place in places])
    assert rows.chosen(bbox=(west, south, east, north)).tolist() == expected
