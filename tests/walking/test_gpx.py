"""A round as GPX: the rules of the GPX 1.1 schema, and other programs that read it."""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import gpxpy
import pytest
import xmlschema

from layers.walking.gpx import gpx_text
from layers.walking.nearest import WGS84
from layers.walking.network.build import build_network
from layers.walking.pace import Flat
from layers.walking.round import Round, RoundProblem, StopRequest, plan
from tests.walking.parks import line, make_park, site

SCHEMA = xmlschema.XMLSchema(Path(__file__).parents[1] / "outside" / "data" / "gpx-1.1.xsd")
"""GPX 1.1 as we state it, from the published standard and from memory."""

CAR_PARK = site(500, 20, "Car Park")


def breaches(text: str) -> list[str]:
    """What in a GPX text the schema does not allow."""
    return [str(error.reason) for error in SCHEMA.iter_errors(text)]


def park_round(**asked: int) -> Round:
    park = make_park(3, boxes=60)
    requests = tuple(StopRequest(at.name, at.lon, at.lat) for at in park.sites()[:20])
    network, _ = build_network(park.lines())
    return plan(RoundProblem(network, requests, CAR_PARK, **asked), pace=Flat())  # type: ignore[arg-type]


def text_of(planned: Round) -> str:
    return gpx_text(planned, name="Alderbeck 14 May", start=CAR_PARK, end=CAR_PARK)


@pytest.mark.parametrize("walkers", [1, 2])
def test_the_file_keeps_the_rules_of_gpx_1_1(walkers: int) -> None:
    assert breaches(text_of(park_round(walkers=walkers))) == []


@pytest.mark.parametrize(
    ("good", "bad"),
    [
        ('version="1.1"', 'version="1.0"'),
        ('creator="Boxround"', ""),
        ("<rte>", "<rte><rtept lat='1' lon='1'/>"),
        ("<trkpt ", "<trkpt lat='91' lon='1'/><trkpt "),
        ("<trkpt ", "<trkpt lat='1' lon='180'/><trkpt "),
        ("<number>1</number>", "<number>-1</number>"),
        ("<rtept ", "<rtept lat='1' lon='1'><ele>high</ele></rtept><rtept "),
        ("<wpt ", "<trk/><wpt "),
        ("<trkseg>", "<trkseg><name>x</name>"),
    ],
)
def test_a_file_that_breaks_a_rule_is_caught(good: str, bad: str) -> None:
    text = text_of(park_round())
    assert good in text
    assert breaches(text.replace(good, bad, 1))


def ordered(found: Round) -> list[str]:
    """Names of the waypoints of a walk: the order of the stop, then the box."""
    return [f"{stop.order:02d} {box}" for stop in found.walks[0].stops for box in stop.boxes]


def test_each_box_is_a_waypoint_named_by_its_order_and_id() -> None:
    found = park_round()
    read = gpxpy.parse(text_of(found))
    assert [point.name for point in read.waypoints] == ["Car Park", *ordered(found)]


def test_a_waypoint_says_what_to_do_and_how_to_get_there() -> None:
    at = [site(x, 3, f"B{x}") for x in (100, 200, 300)]
    requests = [
        StopRequest(one.name, one.lon, one.lat, watch_only=number == 1)
        for number, one in enumerate(at[:2])
    ]
    path = build_network([line((0, 0), (400, 0))])[0]
    found = plan(RoundProblem(path, tuple(requests), site(0, 0, "Gate")), pace=Flat())
    text = gpx_text(found, name="x", start=site(0, 0, "Gate"), end=site(0, 0, "Gate"), leave=at[2:])
    read = {str(point.name)[-4:]: point for point in gpxpy.parse(text).waypoints}
    assert [read[name].symbol for name in ("B100", "B200", "B300")] == [
        "Open",
        "Watch only",
        "Leave",
    ]
    assert "follow Pond Loop" in str(read["B100"].description)
    assert str(read["B200"].description).startswith("Watch only. ")
    assert read["B300"].description == "Leave: do not go near it."
    assert breaches(text) == []


def test_the_route_goes_from_stop_to_stop_with_instructions() -> None:
    found = park_round()
    (route,) = gpxpy.parse(text_of(found)).routes
    assert len(route.points) == len(found.walks[0].stops) + 2
    assert str(route.points[1].description).startswith(("follow ", "walk "))
    assert (route.points[0].name, route.points[-1].name) == ("Car Park", "Car Park")
    assert "back at" in str(route.description)


def test_the_track_read_back_is_as_long_as_the_round() -> None:
    found = park_round()
    (track,) = gpxpy.parse(text_of(found)).tracks
    points = track.segments[0].points
    length_m = WGS84.line_length([p.longitude for p in points], [p.latitude for p in points])
    assert length_m == pytest.approx(found.length_m, abs=0.01)


def test_gdal_reads_the_same_length_and_the_same_names(tmp_path: Path) -> None:
    found = park_round()
    file = tmp_path / "round.gpx"
    file.write_text(text_of(found), encoding="utf-8")
    tracks = gpd.read_file(file, layer="tracks")
    assert WGS84.geometry_length(tracks.geometry[0]) == pytest.approx(found.length_m, abs=0.01)
    named = gpd.read_file(file, layer="waypoints")["name"].tolist()
    assert named == ["Car Park", *ordered(found)]


def test_each_walker_has_a_route_and_a_track() -> None:
    read = gpxpy.parse(text_of(park_round(walkers=2)))
    assert [route.name for route in read.routes] == [
        "Alderbeck 14 May, walker 1",
        "Alderbeck 14 May, walker 2",
    ]
    assert [track.number for track in read.tracks] == [1, 2]


def test_heights_are_written_where_they_are_known() -> None:
    hill = build_network([line((0, 0), (400, 0), heights=[10.0, 50.0])])[0]
    start, top = site(0, 0, "Car Park"), site(400, 0, "B1")
    found = plan(RoundProblem(hill, (StopRequest("B1", top.lon, top.lat),), start), pace=Flat())
    text = gpx_text(found, name="hill", start=start, end=start)
    heights = [point.elevation for point in gpxpy.parse(text).tracks[0].segments[0].points]
    assert heights == [10.0, 50.0, 10.0]
    assert breaches(text) == []


def test_markup_in_names_is_written_as_text() -> None:
    hill = build_network([line((0, 0), (400, 0), name="<script> & Co")])[0]
    start = site(0, 0, "Car <Park>")
    found = plan(
        RoundProblem(hill, (StopRequest("B<1>", start.lon + 0.003, start.lat),), start), pace=Flat()
    )
    text = gpx_text(found, name="a & b", start=start, end=start)
    read = gpxpy.parse(text)
    assert [point.name for point in read.waypoints] == ["Car <Park>", "01 B<1>"]
    assert "<script>" not in text
    assert breaches(text) == []


def test_a_round_without_stops_is_still_a_file() -> None:
    found = plan(RoundProblem(build_network([])[0], (), CAR_PARK), pace=Flat())
    text = text_of(found)
    assert (gpxpy.parse(text).tracks, breaches(text)) == ([], [])


def test_a_longitude_beyond_the_antimeridian_is_wrapped() -> None:
    found = plan(RoundProblem(build_network([])[0], (), CAR_PARK), pace=Flat())
    east = type(CAR_PARK)("East", 185.0, 10.0)
    text = gpx_text(found, name="far", start=east, end=east)
    assert gpxpy.parse(text).waypoints[0].longitude == -175.0
