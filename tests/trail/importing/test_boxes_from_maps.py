"""Boxes from vector files: every format, its system, and what of it is no box."""

from __future__ import annotations

import warnings
from pathlib import Path

import pytest
import shapely

from layers.errors import Refused
from layers.trail.store import Trail
from tests.trail.importing import vector_files
from tests.trail.importing.imports import having, imported, written
from tests.trail.importing.vector_files import EAST, NORTH

POINT = shapely.Point(-77.9, 42.6)


@pytest.mark.parametrize("suffix", [".geojson", ".gpkg", ".shp", ".zip"])
def test_boxes_come_from_every_vector_format(tmp_path: Path, empty: Trail, suffix: str) -> None:
    path = tmp_path / f"sites{'.shp' if suffix == '.zip' else suffix}"
    vector_files.by_gdal(
        path,
        [POINT, shapely.Point(-77.91, 42.6)],
        box=["A1", "A2"],
        hole_mm=[38.5, None],
        installed_on=["2024-05-14", None],
        section=["Früh", None],
        ranger=["Ann", None],
    )
    if suffix == ".zip":
        path = vector_files.zipped(path, folder="a folder/")
    done = imported("boxes", path, empty)
    assert (done.added, done.ignored) == (2, ("ranger",))
    one, two = empty.boxes().to_dict("records")
    assert (one["box"], one["hole_mm"], one["installed_on"], one["section"]) == (
        "A1",
        38.5,
        "2024-05-14",
        "Früh",
    )
    assert two["section"] is None
    assert one["geometry"] == POINT
    assert imported("boxes", path, empty).already_there == 2


def test_boxes_of_a_projected_vector_file_are_turned(tmp_path: Path, empty: Trail) -> None:
    path = vector_files.by_gdal(
        tmp_path / "b.gpkg", [shapely.Point(EAST, NORTH)], crs="EPSG:32618", box=["A1"]
    )
    imported("boxes", path, empty)
    point = empty.boxes().geometry[0]
    assert (point.x, point.y) == pytest.approx((-77.9, 42.6), abs=1e-9)


def test_a_shapefile_that_states_no_system_is_asked_for_it(tmp_path: Path, empty: Trail) -> None:
    path = vector_files.by_gdal(
        tmp_path / "b.shp", [shapely.Point(EAST, NORTH)], crs=None, box=["A1"]
    )
    with pytest.raises(
        Refused, match="reference system to be given, such as crs EPSG:27700, got a file that does"
    ):
        imported("boxes", path, empty)
    assert imported("boxes", path, empty, crs="EPSG:32618").added == 1


def test_a_told_system_goes_before_the_stated_one_and_is_noted(
    tmp_path: Path, empty: Trail
) -> None:
    point = {"type": "Point", "coordinates": [EAST, NORTH]}
    path = vector_files.geojson(tmp_path / "b.geojson", ({"box": "A1"}, point))
    with pytest.raises(Refused, match="give their reference system"):
        imported("boxes", path, empty)
    notes = imported("boxes", path, empty, crs="EPSG:32618").notes
    assert notes[0] == "read as WGS 84 / UTM zone 18N, as given; the file states WGS 84"


def test_waypoints_are_boxes_by_their_names(tmp_path: Path, empty: Trail) -> None:
    points = [
        vector_files.waypoint("A1", -77.9, 42.6, "<desc>by the gate</desc><sym>Flag</sym>"),
        vector_files.waypoint("A2", -77.91, 42.6, "<ele>212.5</ele>"),
    ]
    source = written(tmp_path / "w.gpx", vector_files.GPX.format("".join(points)))
    done = imported("boxes", source, empty)
    assert (done.added, done.columns["box"]) == (2, "name")
    assert sorted(done.ignored) == ["ele", "sym"]
    assert empty.boxes()["note"].tolist() == ["by the gate", None]


def test_placemarks_are_boxes_by_their_names_and_unread_data_is_told(
    tmp_path: Path, empty: Trail
) -> None:
    mark = (
        "<Folder><name>{0}</name><Placemark><name>{0}</name>{1}"
        "<Point><coordinates>-77.9,42.{2}</coordinates></Point></Placemark></Folder>"
    )
    data = '<ExtendedData><Data name="hole_mm"><value>38</value></Data></ExtendedData>'
    text = vector_files.KML.format(mark.format("A1", data, 6) + mark.format("A2", "", 7))
    done = imported("boxes", written(tmp_path / "b.kml", text), empty)
    assert (done.added, done.ignored) == (2, ("ExtendedData",))


def test_a_waypoint_without_a_name_is_a_fault(tmp_path: Path, empty: Trail) -> None:
    text = vector_files.GPX.format('<wpt lat="42.6" lon="-77.9"/>')
    with pytest.raises(
        Refused, match=having("the id painted on the box, got nothing in w.gpx row 1")
    ):
        imported("boxes", written(tmp_path / "w.gpx", text), empty)


def test_ids_that_are_numbers_here_and_text_there_are_read(tmp_path: Path, empty: Trail) -> None:
    point = {"type": "Point", "coordinates": [-77.9, 42.6]}
    near = {"type": "Point", "coordinates": [-77.91, 42.6]}
    path = vector_files.geojson(
        tmp_path / "b.geojson", ({"box": 7}, point), ({"box": "7b", "guards": ["cone"]}, near)
    )
    assert imported("boxes", path, empty).added == 2
    boxes = empty.boxes()
    assert boxes["box"].tolist() == ["7", "7b"]
    assert boxes["guards"].tolist() == [None, "cone"]


@pytest.mark.parametrize(
    ("geometry", "came"),
    [
        ({"type": "MultiPoint", "coordinates": [5]}, "whose coordinates are no lists"),
        ({"type": "Point", "coordinates": 5}, "whose coordinates are no lists"),
        ({"type": "Point", "coordinates": ["west", "north"]}, "Expected a point"),
        ({"type": "Point"}, "an empty Point"),
        ({}, "a None"),
    ],
)
def test_unsound_geometry_in_a_file_of_mixed_columns_is_a_fault(
    tmp_path: Path, empty: Trail, geometry: dict[str, object], came: str
) -> None:
    point = {"type": "Point", "coordinates": [-77.9, 42.6]}
    path = vector_files.geojson(
        tmp_path / "b.geojson", ({"box": 7}, point), ({"box": "7b"}, geometry)
    )
    with pytest.raises(Refused, match=came) as caught:
        imported("boxes", path, empty)
    assert [fault.row for fault in caught.value.faults] == [2]


def test_a_trail_file_is_a_file_of_boxes_too(tmp_path: Path, trail: Trail, empty: Trail) -> None:
    # The live file, as another process would read it.
    done = imported("boxes", trail.path, empty)
    assert done.added == 3
    assert empty.boxes()["section"].tolist() == ["Pond Meadow"] * 3
    assert trail.rows("PRAGMA integrity_check") == [("ok",)]


def test_shapes_of_another_kind_and_missing_ones_are_faults(tmp_path: Path, empty: Trail) -> None:
    path = vector_files.geojson(
        tmp_path / "b.geojson",
        ({"box": "A1"}, {"type": "LineString", "coordinates": [[-77.9, 42.6], [-77.8, 42.6]]}),
        ({"box": "A2"}, None),
        ({"box": "A3"}, {"type": "MultiPoint", "coordinates": [[-77.9, 42.6], [-77.8, 42.6]]}),
        ({"box": "A4"}, {"type": "MultiPoint", "coordinates": [[-77.9, 42.6]]}),
    )
    with pytest.raises(Refused) as caught:
        imported("boxes", path, empty)
    assert [(fault.row, fault.came) for fault in caught.value.faults] == [
        (1, "a LineString"),
        (2, "no shape"),
        (3, "2 points"),
    ]


def test_warnings_of_libraries_do_not_reach_the_caller(tmp_path: Path, empty: Trail) -> None:
    path = vector_files.by_gdal(tmp_path / "b.shp", [POINT], box=["A1"])
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert imported("boxes", path, empty).added == 1
