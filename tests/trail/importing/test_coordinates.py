"""Latitude and longitude as typed, reference systems, and swapped coordinates."""

from __future__ import annotations

import numpy as np
import pyproj
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry.base import BaseGeometry

from layers.errors import BadValue
from layers.trail.importing.coordinates import (
    Axis,
    Reprojector,
    SourceLocation,
    degrees,
    middle_of,
    reference_system,
    trail_location,
    zone_place,
)
from layers.trail.settings import Settings
from layers.trail.store import Trail

ALDERBECK = SourceLocation(-77.9, 42.6, 200_000, "the boxes of this trail")


@pytest.mark.parametrize(
    ("cell", "axis", "number"),
    [
        ("42.6", "latitude", 42.6),
        ("42,6", "latitude", 42.6),
        (42.6, "latitude", 42.6),
        ("-77.9", "longitude", -77.9),
        ("−77.9", "longitude", -77.9),
        ("77.9 W", "longitude", -77.9),
        ("W77.9", "longitude", -77.9),
        ("77.9° west", "longitude", -77.9),
        ("42°36'00\"N", "latitude", 42.6),
        ("42° 36′ 0.0″ n", "latitude", 42.6),
        ("42 36 0", "latitude", 42.6),
        ("42 36.0 N", "latitude", 42.6),
        ("42°36,0'", "latitude", 42.6),
        ("42d36'00\"", "latitude", 42.6),
        ("-42°36'", "latitude", -42.6),
        ("S 42 36 00", "latitude", -42.6),
        ("0°30' W", "longitude", -0.5),
        ("-0°30'", "longitude", -0.5),
        ("42:36:00", "latitude", 42.6),
    ],
)
def test_an_angle_is_read_in_the_forms_people_type(cell: object, axis: Axis, number: float) -> None:
    assert degrees(cell, axis=axis) == pytest.approx(number, abs=1e-12)


@pytest.mark.parametrize(
    ("cell", "axis", "expected"),
    [
        ("42°75'00\"", "latitude", "a latitude like"),
        ("42 36 75", "latitude", "a latitude like"),
        ("42 36 12 9", "latitude", "a latitude like"),
        ("42.5 36", "latitude", "a latitude like"),
        ("--42", "latitude", "a latitude like"),
        ("-42 N", "latitude", "a latitude like"),
        ("N 42 S", "latitude", "a latitude like"),
        ("51d30m0s", "latitude", "a latitude like"),
        ("by the gate", "latitude", "a latitude like"),
        (True, "latitude", "a latitude like"),
        ("77.9 W", "latitude", "latitude and longitude look swapped"),
        ("N 42", "longitude", "latitude and longitude look swapped"),
        ("-97.9", "latitude", "latitude and longitude look swapped"),
        ("435210", "longitude", "columns x and y and their reference system"),
        (4.7e6, "latitude", "columns x and y and their reference system"),
    ],
)
def test_what_is_no_sound_angle_is_refused(cell: object, axis: Axis, expected: str) -> None:
    with pytest.raises(BadValue, match=expected):
        degrees(cell, axis=axis)


@given(st.integers(0, 89), st.integers(0, 59), st.integers(0, 59), st.sampled_from("NS"))
def test_any_degrees_minutes_and_seconds_come_back(d: int, m: int, s: int, side: str) -> None:
    expected = (d + m / 60 + s / 3600) * (1 if side == "N" else -1)
    for written in (f"{d}°{m:02d}'{s:02d}\"{side}", f"{side} {d} {m} {s}", f"{d}:{m}:{s} {side}"):
        assert degrees(written, axis="latitude") == pytest.approx(expected, abs=1e-12)


@given(st.text())
def test_any_text_is_an_angle_in_range_or_refused(text: str) -> None:
    try:
        assert -90 <= degrees(text, axis="latitude") <= 90
    except BadValue as error:
        assert "a latitude" in str(error)


def test_coordinates_of_a_told_system_are_turned_and_heights_kept() -> None:
    # IOGP 373-7-2 (EPSG Guidance Note 7-2), example of British National Grid, from memory:
    # easting 577274.99, northing 69740.50 = 50 30 N, 0 30 E on OSGB36, about 100 m from WGS 84.
    placer = Reprojector(reference_system("EPSG:27700"), None)
    placed = placer.reproject(shapely.Point(577274.99, 69740.50, 12.5))
    assert shapely.get_coordinates(placed, include_z=True)[0] == pytest.approx(
        [0.5, 50.5, 12.5], abs=0.003
    )
    note = placer.note()
    assert note is not None
    assert "OSGB36" in note
    assert "within 2 m" in note


def test_coordinates_of_wgs84_stay_as_they_are_to_the_last_bit() -> None:
    placer = Reprojector(reference_system("EPSG:4326"), None)
    point = shapely.Point(-77.9123456789, 42.6123456789)
    assert placer.reproject(point) == point
    assert placer.note() is None


@pytest.mark.parametrize("name", ["EPSG:99999", "the usual one", "", "EPSG:3855"])
def test_a_name_that_is_no_system_of_places_is_refused(name: str) -> None:
    with pytest.raises(BadValue, match="a reference system like EPSG:27700"):
        reference_system(name)


@pytest.mark.parametrize(
    ("shape", "expected"),
    [
        (shapely.Point(), "an empty Point"),
        (shapely.Point(0, 0), "means a missing place"),
        (shapely.Point(435210, 469740), "give their reference system"),
        (shapely.Point(float("nan"), 5), "longitude from -180 to 180"),
        (shapely.LineString([(1, 2), (1, 92)]), "got 1, 92"),
    ],
)
def test_a_shape_outside_longitude_and_latitude_is_refused(
    shape: BaseGeometry, expected: str
) -> None:
    with pytest.raises(BadValue, match=expected):
        Reprojector(None, None).reproject(shape)


def test_coordinates_outside_their_system_are_refused() -> None:
    placer = Reprojector(pyproj.CRS("EPSG:27700"), None)
    with pytest.raises(BadValue, match="coordinates that fit the reference system"):
        placer.reproject(shapely.Point(1e12, 5))


def test_swapped_coordinates_are_refused_even_where_both_fit_their_ranges() -> None:
    placer = Reprojector(None, ALDERBECK)
    with pytest.raises(BadValue, match="near the boxes of this trail; latitude and longitude look"):
        placer.reproject(shapely.Point(42.6, -77.9))
    assert placer.reproject(shapely.Point(-77.9, 42.6)) == shapely.Point(-77.9, 42.6)


@given(st.floats(-80, -75), st.floats(40, 45))
def test_no_place_near_the_trail_looks_swapped(lon: float, lat: float) -> None:
    assert not ALDERBECK.swapped(lon, lat)
    assert ALDERBECK.swapped(lat, lon)


@pytest.mark.parametrize(
    ("timezone", "lon", "lat"),
    [
        ("Europe/London", -0.1, 51.5),
        ("Europe/Berlin", 11.5, 48.1),
        ("America/Los_Angeles", -122.0, 37.0),
        ("Australia/Sydney", 147.0, -36.0),
        ("America/New_York", -81.8, 24.5),
    ],
)
def test_a_time_zone_tells_where_a_new_trail_is(timezone: str, lon: float, lat: float) -> None:
    place = zone_place(timezone)
    assert place is not None
    told = SourceLocation(*place, 1_500_000, "the time zone")
    assert not told.swapped(lon, lat)
    assert told.swapped(lat, lon) or abs(lat) > 90 or abs(lon) > 90


def test_a_trail_is_where_its_boxes_are_rather_than_its_time_zone(trail: Trail) -> None:
    found = trail_location(trail)
    assert found is not None
    shapes = trail.boxes().geometry
    middle = (shapes.x.median(), shapes.y.median())
    assert (found.lon, found.lat, found.known_by) == (*middle, "the boxes of this trail")
    assert 20_000 <= found.near_m < 25_000


def test_a_system_of_another_body_is_refused_in_a_sentence() -> None:
    moon = (
        'GEOGCS["Moon",DATUM["D_Moon",SPHEROID["Moon",1737400,0]],PRIMEM["Reference",0],'
        'UNIT["Degree",0.0174532925199433]]'
    )
    with pytest.raises(BadValue, match=r"a reference system of the Earth.*got 'Moon'"):
        Reprojector(reference_system(moon), None)


def test_the_middle_of_places_is_that_of_most_and_none_is_cut_at_the_date_line() -> None:
    lon, lat, away_m = middle_of(np.array([[179.9, -17], [-179.9, -17], [-179.9, -17], [10, 50]]))
    assert (round(lon, 6) % 360, lat) == (180, -17)
    assert away_m[:3].max() < 22_000
    assert away_m[3] > 1e7


def test_a_time_zone_without_a_place_tells_nothing(trail: Trail) -> None:
    with Trail.create(trail.path.with_name("utc.gpkg"), Settings("Alderbeck", "UTC")) as empty:
        assert trail_location(empty) is None
