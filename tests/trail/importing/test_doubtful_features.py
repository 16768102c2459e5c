"""Boxes and paths that could be taken wrong in silence: read right, a question, or refused."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from layers.errors import Refused
from layers.trail.importing.feature_import import import_features
from layers.trail.importing.proposing.answers import LEAVE_OUT
from layers.trail.importing.proposing.feature_questions import APART
from layers.trail.importing.proposing.features import propose_features
from layers.trail.importing.proposing.matching import BoxIds
from layers.trail.store import Trail
from tests.trail.importing.imports import TODAY, imported, written
from tests.trail.importing.vector_files import GPX, KML, waypoint


def test_a_waypoint_without_a_name_is_left_out_and_named(tmp_path: Path, trail: Trail) -> None:
    points = waypoint("C1", -77.9, 42.61) + '<wpt lat="42.61" lon="-77.91"/>'
    source = written(tmp_path / "w.gpx", GPX.format(points))
    proposal = propose_features(source, "boxes", trail, answers={})
    assert import_features(proposal, trail, today=TODAY).added == 1
    assert [why for _, why in proposal.left_out] == ["row 2: a waypoint without a name"]


def test_ids_that_look_the_same_are_not_two_boxes(tmp_path: Path, trail: Trail) -> None:
    head = "box,lat,lon\n"
    source = written(tmp_path / "b.csv", f"{head}a1,42.61,-77.9\n")
    with pytest.raises(Refused, match="differs from 'A1' in more than capital letters"):
        imported("boxes", source, trail)
    for alike in ("A 1", "A01", "A-1"):
        source = written(tmp_path / "b.csv", f"{head}{alike},42.61,-77.9\n")
        with pytest.raises(Refused, match=r"differs from 'A1' in more than .* leading zeros"):
            imported("boxes", source, trail)
    source = written(tmp_path / "b.csv", f"{head}N1-1,42.61,-77.9\nN11,42.62,-77.9\n")
    assert imported("boxes", source, trail).added == 2
    source = written(tmp_path / "c.csv", f"{head}A1\u200b,42.6,-77.9\n")
    assert imported("boxes", source, trail).already_there == 1
    assert BoxIds({"A1", "a1"}).match("A01").value is None
    assert BoxIds({"A1", "B1"}).match("a-01").value == "A1"
    assert BoxIds({"11", "A1"}).match("1-1").value is None


@pytest.mark.parametrize(
    ("answer", "counts"),
    [(None, (1, 0, 0)), ("A1", (1, 1, 0)), (LEAVE_OUT, (1, 0, 1)), (APART, (2, 0, 0))],
)
def test_an_id_that_reads_like_another_box_is_a_question(
    tmp_path: Path, trail: Trail, answer: str | None, counts: tuple[int, int, int]
) -> None:
    source = written(tmp_path / "b.csv", "Box,Lat,Lon\nA 01,42.6,-77.9\nC9,42.61,-77.9\n")
    answers = {} if answer is None else {"boxes": {"A 01": answer}}
    proposal = propose_features(source, "boxes", trail, answers=answers)
    assert [one.key for one in proposal.questions] == ["boxes: A 01"] * (answer is None)
    clear = replace(proposal, features=tuple(one for one in proposal.features if not one.open))
    result = import_features(clear, trail, today=TODAY)
    assert (result.added, result.already_there, len(proposal.left_out)) == counts


def test_a_lone_box_beyond_the_trail_is_a_question_and_one_beside_it_is_none(
    tmp_path: Path, trail: Trail
) -> None:
    for lat, asked in ((42.7, 0), (43.1, 1)):
        source = written(tmp_path / "b.csv", f"Box,Lat,Lon\nC9,{lat},-77.9\n")
        questions = propose_features(source, "boxes", trail, answers={}).questions
        assert [one.key for one in questions] == ["places: far away"] * asked
    with pytest.raises(Refused, match=r"within 2\d km of the boxes of this trail.*5\d km away"):
        imported("boxes", source, trail)


@pytest.mark.parametrize(
    ("lat", "lon", "message"),
    [
        ("42.6", "77.9", "a minus sign"),
        ("-42.6", "-77.9", "a minus sign"),
        ("0", "-77.9", "a minus sign"),
    ],
)
def test_a_place_far_from_the_trail_is_refused_unless_it_is_right(
    tmp_path: Path, trail: Trail, lat: str, lon: str, message: str
) -> None:
    source = written(tmp_path / "b.csv", f"box,lat,lon\nC1,{lat},{lon}\n")
    with pytest.raises(Refused, match=message):
        imported("boxes", source, trail)
    assert imported("boxes", source, trail, far_is_right=True).added == 1


def _path(tmp_path: Path, *vertices: tuple[float, ...]) -> Path:
    shape = {"type": "LineString", "coordinates": vertices}
    feature = {"type": "Feature", "properties": {"name": "Loop"}, "geometry": shape}
    return written(
        tmp_path / "p.geojson", json.dumps({"type": "FeatureCollection", "features": [feature]})
    )


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("b.gpx", GPX.format('<wpt lat="x" lon="-77.9"><name>C1</name></wpt>')),
        (
            "b.kml",
            KML.format(
                "<Placemark><name>C1</name><Point><coordinates>-77.9, 42.6</coordinates></Point>"
                "</Placemark>"
            ),
        ),
    ],
)
def test_a_latitude_that_the_library_makes_of_nothing_is_no_place(
    tmp_path: Path, trail: Trail, name: str, text: str
) -> None:
    with pytest.raises(Refused, match=r"km away|got no shape|that can be read"):
        imported("boxes", written(tmp_path / name, text), trail)


@pytest.mark.parametrize(
    ("vertex", "message"),
    [
        ((0, 0), "longitude 0, latitude 0"),
        ((-77.9, 43.6), "a line without leaps"),
        ((-77.905, 42.6, -9999), "heights from -500"),
    ],
)
def test_vertices_that_no_walk_has_are_refused(
    tmp_path: Path, trail: Trail, vertex: tuple[float, ...], message: str
) -> None:
    ends = [(-77.9, 42.6), (-77.901, 42.6)]
    if len(vertex) == 3:
        ends = [(*end, 200.0) for end in ends]  # type: ignore[misc]
    with pytest.raises(Refused, match=message):
        imported("paths", _path(tmp_path, ends[0], vertex, ends[1]), trail)


def test_a_track_of_one_point_is_left_out_and_named(tmp_path: Path, trail: Trail) -> None:
    points = ['<trkpt lat="42.6" lon="-77.9"/>', '<trkpt lat="42.6" lon="-77.91"/>']
    tracks = ["".join(points), points[0], ""]
    made = "".join(f"<trk><trkseg>{inside}</trkseg></trk>" for inside in tracks)
    source = written(
        tmp_path / "t.gpx",
        f'<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1">{made}</gpx>',
    )
    done = imported("paths", source, trail)
    assert (done.added, done.ignored) == (1, ("tracks without two points",))
