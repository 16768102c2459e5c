"""Paths, places and zones: lines apart, heights kept, each thing once."""

from __future__ import annotations

from pathlib import Path

import pytest
import shapely
from shapely.geometry.base import BaseGeometry

from layers.errors import Refused
from layers.trail.store import Trail
from tests.trail.importing import vector_files
from tests.trail.importing.imports import content, having, imported, written
from tests.trail.importing.vector_files import GPX, segment


def coordinates(shape: BaseGeometry) -> list[list[float]]:
    return [list(vertex) for vertex in shapely.get_coordinates(shape, include_z=shape.has_z)]


def new_paths(trail: Trail) -> list[tuple[str | None, list[list[float]]]]:
    """Name and vertices of the paths brought in, without the one that was there."""
    frame = trail.paths().iloc[1:]
    return [
        (name, coordinates(shape))
        for name, shape in zip(frame["name"], frame.geometry, strict=True)
    ]


def test_segments_of_a_track_are_paths_of_their_own_and_keep_whole_heights(
    tmp_path: Path, trail: Trail
) -> None:
    track = (
        "<trk><name>Beech Walk</name>"
        + segment((-77.9, 42.6, 210.5), (-77.91, 42.6, 0))
        + segment()
        + segment((-77.92, 42.6, 212), (-77.93, 42.6))
        + "</trk><trk><name>Spur</name>"
        + segment((-77.94, 42.6), (-77.95, 42.6))
        + "</trk>"
    )
    route = (
        "<rte><name>Round</name><rtept lat='42.6' lon='-77.96'><ele>5</ele></rtept>"
        "<rtept lat='42.6' lon='-77.97'><ele>6</ele></rtept></rte>"
    )
    source = written(tmp_path / "walk.gpx", GPX.format(route + track))
    assert imported("paths", source, trail).added == 4
    assert new_paths(trail) == [
        ("Beech Walk", [[-77.9, 42.6, 210.5], [-77.91, 42.6, 0]]),
        # One vertex has no height, so the part has none: unknown is not 0.
        ("Beech Walk", [[-77.92, 42.6], [-77.93, 42.6]]),
        ("Spur", [[-77.94, 42.6], [-77.95, 42.6]]),
        ("Round", [[-77.96, 42.6, 5], [-77.97, 42.6, 6]]),
    ]
    before = content(trail)
    again = imported("paths", source, trail)
    assert (again.added, again.already_there) == (0, 4)
    assert content(trail) == before


def test_faults_of_a_gpx_file_name_the_layer(tmp_path: Path, trail: Trail) -> None:
    text = GPX.format(
        f"<trk><name>Spur</name>{segment((-77.9, 42.6), (-77.9, 42.6))}</trk>"
        "<trk><name>None</name></trk>"
        "<rte><rtept lat='42.6' lon='-77.9'/><rtept lat='42.6' lon='-77.9'/></rte>"
    )
    with pytest.raises(Refused) as caught:
        imported("paths", written(tmp_path / "walk.gpx", text), trail)
    assert [(fault.file, fault.row, fault.came) for fault in caught.value.faults] == [
        ("walk.gpx (tracks)", 1, "a line whose vertices are all the same"),
        ("walk.gpx (routes)", 1, "a line whose vertices are all the same"),
    ]


@pytest.mark.parametrize("suffix", [".geojson", ".gpkg", ".shp"])
def test_lines_of_several_parts_are_split_and_heights_kept(
    tmp_path: Path, trail: Trail, suffix: str
) -> None:
    parts = [[(-77.9, 42.6, 1), (-77.91, 42.6, 2)], [(-77.92, 42.6, 3), (-77.93, 42.6, 4)]]
    path = vector_files.by_gdal(
        tmp_path / f"ways{suffix}",
        [shapely.MultiLineString(parts)],
        name=["Loop"],
        kind=["track"],
        open_to=["Team"],
        level=[1],
    )
    assert imported("paths", path, trail).added == 2
    assert new_paths(trail) == [("Loop", [list(v) for v in part]) for part in parts]
    frame = trail.paths().iloc[1:]
    assert frame["open_to"].tolist() == ["team", "team"]
    assert frame["level"].tolist() == [1, 1]


def test_a_path_twice_in_a_file_is_added_once_and_noted(tmp_path: Path, trail: Trail) -> None:
    line = {"type": "LineString", "coordinates": [[-77.9, 42.6], [-77.95, 42.6]]}
    path = vector_files.geojson(
        tmp_path / "w.geojson", ({"name": "a"}, line), ({"name": "a"}, line)
    )
    done = imported("paths", path, trail)
    assert done.added == 1
    assert done.notes == ("w.geojson row 2 has the name and shape of row 1; left out",)


def test_a_known_path_with_another_content_is_refused(tmp_path: Path, trail: Trail) -> None:
    line = shapely.LineString([(-77.9, 42.6, 210.0), (-77.91, 42.6, 214.0)])
    path = vector_files.by_gdal(
        tmp_path / "w.geojson", [line], name=["Pond Loop"], open_to=["closed"]
    )
    with pytest.raises(Refused, match=having("got open_to 'closed' instead of 'all'")):
        imported("paths", path, trail)


def test_swapped_and_unknown_words_of_paths_are_faults(tmp_path: Path, trail: Trail) -> None:
    swapped = {"type": "LineString", "coordinates": [[42.6, -77.9], [42.6, -77.95]]}
    sound = {"type": "LineString", "coordinates": [[-77.9, 42.6], [-77.95, 42.6]]}
    path = vector_files.geojson(
        tmp_path / "w.geojson",
        ({"name": "a"}, swapped),
        ({"name": "b", "open_to": "everyone", "level": 2.5}, sound),
    )
    with pytest.raises(Refused) as caught:
        imported("paths", path, trail)
    assert [(fault.row, fault.column) for fault in caught.value.faults] == [
        (1, "geometry"),
        (2, "open_to"),
        (2, "level"),
    ]


def test_paths_come_from_well_known_text_too(tmp_path: Path, trail: Trail) -> None:
    source = written(
        tmp_path / "w.csv", "name;wkt\nSpur;LINESTRING Z (-77.9 42.6 1,-77.95 42.6 2)\n"
    )
    assert imported("paths", source, trail, crs="EPSG:4326").added == 1
    assert new_paths(trail) == [("Spur", [[-77.9, 42.6, 1], [-77.95, 42.6, 2]])]


def test_a_table_of_points_is_no_file_of_paths(tmp_path: Path, trail: Trail) -> None:
    source = written(tmp_path / "w.csv", "name,lat,lon\nSpur,42.6,-77.9\n")
    with pytest.raises(Refused, match="Expected a column geometry, got columns name, lat, lon"):
        imported("paths", source, trail)


def test_places_come_from_tables_and_waypoints(tmp_path: Path, trail: Trail) -> None:
    table = written(
        tmp_path / "p.csv", "name,kind,lat,lon\nFord,Hazard,42.61,-77.9\nOak,landmark,42.62,-77.9\n"
    )
    assert imported("places", table, trail).added == 2
    gpx = written(tmp_path / "p.gpx", GPX.format(vector_files.waypoint("Gate", -77.9, 42.63)))
    assert imported("places", gpx, trail).added == 1
    places = trail.places()
    assert places["name"].tolist() == ["Barn", "Ford", "Oak", "Gate"]
    assert places["kind"].tolist() == ["start", "hazard", "landmark", None]
    assert imported("places", table, trail).already_there == 2


def test_a_place_of_a_kind_that_is_not_known_is_refused(tmp_path: Path, trail: Trail) -> None:
    table = written(tmp_path / "p.csv", "name,kind,lat,lon\nInn,pub,42.61,-77.9\n")
    with pytest.raises(Refused, match="one of start, hazard, landmark, got 'pub'"):
        imported("places", table, trail)


def test_zones_of_several_parts_are_split_and_holes_kept(tmp_path: Path, trail: Trail) -> None:
    hole = shapely.box(-77.93, 42.62, -77.92, 42.63).exterior.coords
    holed = shapely.Polygon(shapely.box(-77.95, 42.6, -77.9, 42.65).exterior.coords, [hole])
    both = shapely.MultiPolygon([holed, shapely.box(-77.8, 42.6, -77.7, 42.7)])
    path = vector_files.by_gdal(
        tmp_path / "z.gpkg", [both], name=["Marsh"], kind=["keep_out"], detail=["nesting terns"]
    )
    assert imported("zones", path, trail).added == 2
    zones = trail.zones().iloc[1:]
    assert [len(shape.interiors) for shape in zones.geometry] == [1, 0]
    assert zones["kind"].tolist() == ["keep_out", "keep_out"]
    assert imported("zones", path, trail).already_there == 2


def test_an_outline_that_crosses_itself_is_refused(tmp_path: Path, trail: Trail) -> None:
    bow = [[[-77.9, 42.6], [-77.8, 42.7], [-77.8, 42.6], [-77.9, 42.7], [-77.9, 42.6]]]
    path = vector_files.geojson(
        tmp_path / "z.geojson", ({"name": "a"}, {"type": "Polygon", "coordinates": bow})
    )
    with pytest.raises(Refused, match="an area with a sound outline, got Self-intersection"):
        imported("zones", path, trail)


def test_gpx_holds_no_zones(tmp_path: Path, trail: Trail) -> None:
    source = written(tmp_path / "z.gpx", GPX.format(vector_files.waypoint("A", -77.9, 42.6)))
    with pytest.raises(Refused, match="Expected a format that holds zones, got GPX"):
        imported("zones", source, trail)


def test_a_track_that_was_begun_and_never_walked_is_left_out_and_listed(
    tmp_path: Path, empty: Trail
) -> None:
    walked = f"<trk><name>Loop</name>{segment((-77.9, 42.6), (-77.91, 42.61))}</trk>"
    text = GPX.format(f"<trk><name>Begun</name></trk><trk><trkseg/></trk>{walked}")
    done = imported("paths", written(tmp_path / "p.gpx", text), empty)
    assert (done.added, done.ignored) == (1, ("tracks without two points",))
    assert list(empty.paths()["name"]) == ["Loop"]


def test_a_track_with_times_was_recorded_and_its_kind_says_so(tmp_path: Path, trail: Trail) -> None:
    def track(name: str, kind: str, north: float, *, timed: bool) -> str:
        time = "<time>2026-05-01T10:00:00Z</time>" if timed else ""
        points = "".join(
            f"<trkpt lat='{north}' lon='{east}'>{time}</trkpt>" for east in (-77.9, -77.91)
        )
        return f"<trk><name>{name}</name>{kind}<trkseg>{points}</trkseg></trk>"

    tracks = (
        track("Drawn", "<type>footpath</type>", 42.6, timed=False),
        track("Walked", "", 42.61, timed=True),
        track("Ridden", "<type>track</type>", 42.62, timed=True),
        track("Plain", "", 42.63, timed=False),
    )
    source = written(tmp_path / "walk.gpx", GPX.format("".join(tracks)))
    assert imported("paths", source, trail).added == 4
    frame = trail.paths().iloc[1:]
    assert dict(zip(frame["name"], frame["kind"], strict=True)) == {
        "Drawn": "footpath",
        "Walked": "recorded",
        "Ridden": "track, recorded",
        "Plain": None,
    }
