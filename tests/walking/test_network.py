"""From drawn lines to a network: what joins, what stays apart, and what is said about it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import shapely

from layers.walking.distances import Walking
from layers.walking.nearest import WGS84
from layers.walking.network.attach import Site, attach
from layers.walking.network.build import build_network
from layers.walking.network.graph import Network
from layers.walking.network.lines import Line, lines_from
from layers.walking.network.tracks import TOLERANCE_M
from layers.walking.pace import Flat
from tests.walking.parks import PLANE, line, site


def walked_m(lines: list[Line], begin: Site, end: Site) -> float:
    """Metres from one place to another along the paths; infinite where no way leads."""
    network, _ = build_network(lines)
    return float(Walking(attach(network, [begin, end]), Flat()).length_m[0, 1])


def parts(network: Network) -> int:
    return int(network.parts().max()) + 1


ACROSS = line((-100, 0), (100, 0), name="Pond Loop")
WEST, EAST = site(-100, 0, "west"), site(100, 0, "east")
NORTH, SOUTH = site(0, 80, "north"), site(0, -80, "south")


def upright(short_m: float, **values: Any) -> Line:
    """A path that comes from the north and stops short of Pond Loop."""
    return line((0, 80), (0, short_m), name="Alder Path", **values)


@pytest.mark.parametrize("gap_m", [0.0, 0.5, 1.7, 3.0])
def test_an_end_that_stops_up_to_three_metres_short_is_joined(gap_m: float) -> None:
    assert walked_m([ACROSS, upright(gap_m)], NORTH, EAST) == pytest.approx(180.0, abs=1e-3)


def test_an_end_that_stops_farther_off_is_not_joined() -> None:
    network, report = build_network([ACROSS, upright(TOLERANCE_M + 0.1)])
    assert parts(network) == 2
    assert report.ends == ()
    assert [part.names for part in report.parts] == [("Pond Loop",), ("Alder Path",)]


def test_the_report_names_the_lines_the_place_and_the_gap_of_an_end_that_was_joined() -> None:
    _, report = build_network([ACROSS, upright(2.0)])
    (join,) = report.ends
    assert join.names == ("Alder Path", "Pond Loop")
    here = WGS84.inv(join.lon, join.lat, site(0, 2).lon, site(0, 2).lat)[2]
    assert [join.gap_m, here] == pytest.approx([2.0, 0.0], abs=1e-3)
    assert "Alder Path stopped 2.0 m short of Pond Loop and was joined." in report.sentences()


def test_an_end_joins_where_its_line_was_going() -> None:
    slant = line((80, 80), (2, 2), name="Alder Path")
    network, _ = build_network([ACROSS, slant])
    assert np.abs(PLANE.xy(network.lon, network.lat)).sum(axis=1).min() < 1e-3


def test_an_end_that_overshoots_is_joined_at_the_crossing_only() -> None:
    network, report = build_network([ACROSS, upright(-2.0)])
    assert (len(report.crossings), len(report.ends)) == (1, 0)
    assert walked_m([ACROSS, upright(-2.0)], NORTH, EAST) == pytest.approx(180.0, abs=1e-3)
    assert report.to_decide == ()
    assert network.edges == 4


def test_three_ends_around_one_junction_are_all_joined() -> None:
    ends = [line((1, 0), (90, 0), name="a"), line((-0.5, 1), (-60, 90), name="b")]
    ends.append(line((-0.5, -1), (-60, -90), name="c"))
    network, _ = build_network(ends)
    assert parts(network) == 1


def test_lines_that_cross_without_a_vertex_are_joined() -> None:
    up = line((0, 80), (0, -80), name="Alder Path")
    assert walked_m([ACROSS, up], NORTH, EAST) == pytest.approx(180.0, abs=1e-3)


def test_a_crossing_of_which_nothing_is_known_is_left_to_the_keeper_to_decide() -> None:
    up = line((0, 80), (0, -80), name="Alder Path")
    _, report = build_network([ACROSS, up])
    (join,) = report.to_decide
    assert join.names == ("Pond Loop", "Alder Path")
    assert any("If one is a bridge, give it level 1" in said for said in report.sentences())


def test_a_crossing_with_levels_given_is_decided() -> None:
    level = line((-100, 0), (100, 0), name="Pond Loop", level=0)
    up = line((0, 80), (0, -80), name="Alder Path", level=0)
    network, report = build_network([level, up])
    assert (parts(network), report.to_decide) == (1, ())


def test_a_crossing_drawn_as_a_junction_is_decided() -> None:
    drawn = line((-100, 0), (0, 0), (100, 0))
    up = line((0, 80), (0, 0), (0, -80), name="Alder Path")
    network, report = build_network([drawn, up])
    assert (parts(network), len(report.crossings), report.to_decide) == (1, 1, ())


def test_a_bridge_does_not_meet_the_path_below() -> None:
    bridge = line((0, 80), (0, -80), name="Footbridge", level=1)
    network, report = build_network([ACROSS, bridge])
    assert parts(network) == 2
    assert [join.reason for join in report.apart] == ["levels 0 and 1"]


def test_a_bridge_meets_the_paths_at_its_ends() -> None:
    bridge = line((0, 30), (0, -30), name="Footbridge", level=1)
    lines = [ACROSS, upright(31.0), bridge, line((-50, -32), (50, -32), name="Mill Path")]
    lines.append(line((50, -32), (100, 0), name="Rise"))
    assert parts(build_network(lines)[0]) == 1
    # Over the bridge, along Mill Path and up the Rise; there is no way down in the middle.
    over_m = 80 + 32 + 50 + np.hypot(50, 32)
    assert walked_m(lines, NORTH, EAST) == pytest.approx(over_m, abs=0.01)


def test_a_path_that_ends_under_a_bridge_does_not_meet_it() -> None:
    bridge = line((-100, 0), (100, 0), name="Footbridge", level=1)
    network, _ = build_network([bridge, upright(1.0)])
    assert parts(network) == 2


@pytest.mark.parametrize(("above_m", "count"), [(1.9, 1), (2.0, 2), (7.0, 2)])
def test_heights_decide_where_both_lines_have_them(above_m: float, count: int) -> None:
    low = line((-100, 0), (100, 0), heights=[10.0, 10.0])
    high = line((0, 80), (0, -80), name="Alder Path", heights=[10.0 + above_m] * 2)
    network, report = build_network([low, high])
    assert (parts(network), report.to_decide) == (count, ())
    assert [join.reason for join in report.apart] == (
        [] if count == 1 else [f"heights differ by {above_m:.1f} m"]
    )


def test_heights_of_nought_throughout_count_as_none() -> None:
    row = {"name": "Pond Loop", "geometry": shapely.LineString([(0, 0, 0), (0.01, 0, 0)])}
    (made,), _ = lines_from([row])
    assert np.isnan(made.height_m).all()


def test_gaps_in_heights_are_filled_along_the_line() -> None:
    vertices = [(0, 0, 10), (0.01, 0, float("nan")), (0.02, 0, 20)]
    (made,), _ = lines_from([{"geometry": shapely.LineString(vertices)}])
    assert made.height_m.tolist() == pytest.approx([10.0, 15.0, 20.0])


def test_a_lollipop_is_joined_where_its_loop_comes_back_to_the_stem() -> None:
    loop = line((0, 0), (0, 100), (40, 140), (0, 180), (-40, 140), (-1.5, 100.5))
    network, report = build_network([loop])
    assert len(report.ends) == 1
    assert network.edges == 3
    stem, side = site(0, 0, "stem"), site(-40, 140, "side")
    back_m = 100 + np.hypot(40, 40)
    assert walked_m([loop], stem, side) == pytest.approx(back_m, abs=1.0)


def test_a_track_that_crosses_itself_may_be_left_at_the_crossing() -> None:
    eight = line((0, 0), (100, 100), (100, 0), (0, 100))
    network, report = build_network([eight])
    assert (network.edges, len(report.crossings), report.to_decide) == (3, 1, ())
    begin, end = site(0, 0, "begin"), site(0, 100, "end")
    assert walked_m([eight], begin, end) == pytest.approx(np.hypot(100, 100), abs=1e-3)


def test_a_closed_loop_may_be_walked_either_way() -> None:
    loop = line((0, 0), (100, 0), (100, 100), (0, 100), (0, 0))
    assert walked_m([loop], site(10, 0, "a"), site(0, 10, "b")) == pytest.approx(20.0, abs=1e-3)


def test_two_recordings_of_one_path_are_merged() -> None:
    rng = np.random.default_rng(3)
    x = np.arange(0, 401, 8.0)
    first = line(*zip(x, 20 * np.sin(x / 60), strict=True), name="Pond Loop")
    noisy = 20 * np.sin(x / 60) + rng.normal(0, 0.8, len(x))
    again = line(*zip(x + 3, noisy, strict=True), name="track 2")
    network, report = build_network([first, again])
    assert network.length_m.sum() == pytest.approx(shape_m(first), abs=12.0)
    assert parts(network) == 1
    assert {(merged.name, merged.into) for merged in report.merged} == {("track 2", "Pond Loop")}


def test_a_track_walked_out_and_back_is_one_path() -> None:
    rng = np.random.default_rng(5)
    x = np.r_[np.arange(0, 301, 6.0), np.arange(297, -1, -6.0)]
    track = line(*zip(x, rng.normal(0, 0.7, len(x)), strict=True))
    network, report = build_network([track])
    assert network.length_m.sum() == pytest.approx(300.0, rel=0.08)
    assert parts(network) == 1
    assert report.merged


def test_what_a_recording_adds_beyond_the_shared_stretch_is_kept_and_tied_on() -> None:
    first = line((0, 0), (200, 0), name="Pond Loop")
    again = line((50, 1), (150, 1), (150, 120), name="track 2")
    assert walked_m([first, again], site(0, 0, "a"), site(150, 120, "b")) == pytest.approx(
        270.0, abs=3.0
    )


def test_a_path_beside_another_at_a_distance_is_not_merged() -> None:
    _, report = build_network([ACROSS, line((-100, 7), (100, 7), name="Mill Path")])
    assert report.merged == ()


def test_a_bridge_over_a_path_along_its_length_is_not_merged() -> None:
    _, report = build_network([ACROSS, line((-90, 1), (90, 1), name="Boardwalk", level=1)])
    assert report.merged == ()


@pytest.mark.parametrize(
    ("open_to", "expected"), [("all", 180.0), ("team", 180.0), ("closed", np.inf)]
)
def test_a_path_is_walked_unless_it_is_closed(open_to: str, expected: float) -> None:
    lines = [ACROSS, upright(0.0, open_to=open_to)]
    north = site(0, 700, "north") if np.isinf(expected) else NORTH
    assert walked_m(lines, EAST, north) == pytest.approx(expected, abs=1e-3)


def test_the_report_names_the_paths_that_are_closed() -> None:
    _, report = build_network([upright(0, open_to="closed"), upright(0, open_to="team")])
    assert [unused.reason for unused in report.unused] == ["it is closed"]


def test_a_one_way_path_is_walked_in_its_direction_only() -> None:
    short = line((-100, 0), (100, 0), kind="one-way path", one_way=True)
    around = line((-100, 0), (-100, 50), (100, 50), (100, 0), name="Around")
    assert walked_m([short, around], WEST, EAST) == pytest.approx(200.0, abs=1e-3)
    assert walked_m([short, around], EAST, WEST) == pytest.approx(300.0, abs=1e-3)


@pytest.mark.parametrize("kind", ["one-way path", "One way boardwalk", "path, ONE-WAY"])
def test_a_path_is_one_way_when_its_kind_says_so(kind: str) -> None:
    (made,), _ = lines_from([{"kind": kind, "geometry": shapely.LineString([(0, 0), (1, 1)])}])
    assert made.one_way


@pytest.mark.parametrize("kind", ["path", "", None, "zone wayside", "one wayward path", "two-way"])
def test_a_path_whose_kind_does_not_say_so_is_walked_both_ways(kind: str | None) -> None:
    (made,), _ = lines_from([{"kind": kind, "geometry": shapely.LineString([(0, 0), (1, 1)])}])
    assert not made.one_way


def test_ends_on_the_line_but_for_rounding_are_joined_without_a_word() -> None:
    network, report = build_network([ACROSS, upright(0.02)])
    assert (parts(network), len(report.ends), report.sentences()) == (1, 1, [])


def test_a_line_joined_at_both_ends_is_told_in_one_sentence() -> None:
    arch = line((-80, 2), (-80, 60), (80, 60), (80, 1), name="Alder Path")
    _, report = build_network([ACROSS, arch])
    assert report.sentences() == [
        "Alder Path stopped up to 2.0 m short of Pond Loop in 2 places and was joined."
    ]


def test_a_line_that_crosses_another_twice_is_told_in_one_sentence() -> None:
    arch = line((-80, -60), (-80, 60), (80, 60), (80, -60), name="Alder Path")
    _, report = build_network([ACROSS, arch])
    assert report.sentences() == [
        "Pond Loop and Alder Path cross in 2 places where no junction is drawn and were joined."
        " If one is a bridge, give it level 1."
    ]


def test_a_line_that_is_no_line_is_left_out_with_the_reason() -> None:
    with np.errstate(invalid="ignore"):
        nowhere = shapely.from_wkt("LINESTRING (0 0, NaN 1)")
    rows: list[dict[str, Any]] = [
        {"name": "a", "geometry": shapely.LineString([(1, 1), (1, 1)])},
        {"name": "b", "geometry": None},
        {"name": "c", "geometry": shapely.Point(1, 1)},
        {"name": "d", "geometry": shapely.LineString([(0, 0), (500000, 4000000)])},
        {"name": "e", "geometry": shapely.LineString()},
        {"name": "f", "geometry": nowhere},
    ]
    lines, unused = lines_from(rows)
    assert lines == ()
    assert {one.name: one.reason for one in unused} == {
        "a": "it has only one vertex",
        "b": "it has no shape",
        "c": "it is a Point, not a line",
        "d": "a vertex is not on earth: longitude and latitude are in degrees",
        "e": "it has no shape",
        "f": "a vertex has no position",
    }


def test_each_part_of_a_line_in_parts_is_a_line() -> None:
    shape = shapely.MultiLineString([[(0, 0), (1, 0)], [(2, 0), (3, 0)]])
    lines, unused = lines_from([{"name": "Pond Loop", "level": np.nan, "geometry": shape}])
    assert [(one.name, one.level, one.open_to) for one in lines] == [("Pond Loop", None, "all")] * 2
    assert unused == ()


def test_attributes_and_heights_are_kept_on_every_piece() -> None:
    up = line((0, 80), (0, -80), name="Alder Path", kind="steps", heights=[30.0, 14.0])
    network, _ = build_network([ACROSS, up])
    steps = [
        edge for edge in range(network.edges) if network.lines[network.line[edge]].kind == "steps"
    ]
    assert len(steps) == 2
    assert network.down_m[steps].sum() == pytest.approx(16.0)
    assert network.up_m.sum() == 0.0
    assert network.vertices(steps[0])[2].tolist() == pytest.approx([30.0, 22.0])


def test_lengths_are_geodesics_to_a_millimetre_in_a_kilometre() -> None:
    rng = np.random.default_rng(1)
    # Lines that neither cross nor run together.
    east = np.linspace(-2000, 2000, 30)
    lines = [line(*zip(east, y + rng.uniform(0, 99, 30), strict=True)) for y in (0, 200, 400)]
    network, _ = build_network(lines)
    assert network.length_m.sum() == pytest.approx(sum(map(shape_m, lines)), rel=1e-6)


def test_no_paths_make_an_empty_network() -> None:
    network, report = build_network([])
    assert (network.nodes, network.edges, report.sentences()) == (0, 0, [])


def test_the_same_lines_make_the_same_network() -> None:
    lines = [ACROSS, upright(2.0), line((-90, -30), (90, 40), name="Rise")]
    first, second = build_network(lines)[0], build_network(lines)[0]
    assert first.vertex_lon.tolist() == second.vertex_lon.tolist()
    assert first.u.tolist() == second.u.tolist()


def shape_m(drawn: Line) -> float:
    return float(WGS84.line_length(drawn.lon, drawn.lat))
