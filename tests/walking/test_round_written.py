"""A round in words, JSON and GeoJSON, and the climb along it."""

from __future__ import annotations

import json

import pytest
import shapely

from layers.walking.network.build import build_network
from layers.walking.network.graph import Network
from layers.walking.round.clock import clock
from layers.walking.round.legs import instruction
from layers.walking.round.written import round_geojson, round_json
from tests.walking.parks import line
from tests.walking.small_rounds import AROUND, LOOP, planned, request


def test_instructions_say_which_path_which_way_and_where_the_box_is() -> None:
    lines = [line((0, 0), (100, 0)), line((100, 0), (100, 80), name="Alder Path")]
    found = planned([request(88, 60, "B1")], network=build_network(lines)[0])
    (stop,) = found.walks[0].stops
    assert instruction(stop.leg) == (
        "follow Pond Loop east 100 m, then turn left onto Alder Path 60 m;"
        " B1 on the left, 12 m off the path"
    )
    assert instruction(stop.leg, units="us").endswith("B1 on the left, 39 ft off the path")
    assert found.walks[0].home is not None
    assert instruction(found.walks[0].home) == (
        "follow Alder Path south 60 m, then turn right onto Pond Loop 100 m; Car Park"
    )


def test_climb_is_counted_along_the_way_and_back() -> None:
    hill = build_network([line((0, 0), (400, 0), heights=[10.0, 50.0])])[0]
    found = planned([request(400, 0, "B1")], network=hill)
    out, home = found.walks[0].legs
    assert [out.climb_m, home.climb_m] == pytest.approx([40.0, 0.0])
    assert home.descent_m == pytest.approx(40.0)


@pytest.mark.parametrize("network", [LOOP, build_network([])[0]], ids=["flat paths", "no paths"])
def test_a_climb_that_is_not_known_is_none_and_null_and_never_nought(network: Network) -> None:
    found = planned(AROUND, network=network)
    assert (found.climb_m, found.walks[0].climb_m, found.walks[0].legs[0].climb_m) == (None,) * 3
    written = round_json(found)
    assert (written["climb_m"], written["walks"][0]["climb_m"]) == (None, None)
    assert {stop["climb_m"] for stop in written["stops"]} == {None}


def test_a_climb_is_not_known_where_one_path_on_the_way_has_no_heights() -> None:
    lines = [line((0, 0), (200, 0), heights=[10.0, 30.0]), line((200, 0), (300, 0), name="Spur")]
    found = planned([request(100, 0, "B1"), request(290, 0, "B2")], network=build_network(lines)[0])
    # To B1 up a path that has heights, on to B2 and home over one that has none.
    assert [leg.climb_m for leg in found.walks[0].legs] == [pytest.approx(10.0), None, None]
    assert found.climb_m is None


def test_boxes_opposite_each_other_add_no_climb() -> None:
    hill = build_network([line((0, 0), (400, 0), heights=[10.0, 50.0])])[0]
    found = planned([request(200, 20, "B1"), request(200, -20, "B2")], network=hill)
    assert found.walks[0].stops[1].leg.climb_m == 0.0
    assert found.climb_m == pytest.approx(20.0)


def test_the_round_as_json_holds_what_a_page_needs() -> None:
    found = planned([*AROUND, request(154, -3, "B4")], leave_at=9 * 60.0)
    written = json.loads(json.dumps(round_json(found)))
    assert {"box", "order", "leg_m", "leg_minutes", "climb_m", "off_path_m", "approach"} <= set(
        written["stops"][0]
    )
    assert [stop["order"] for stop in written["stops"]] == (
        [1, 1, 2, 3] if written["stops"][0]["box"] == "B1" else [1, 2, 3, 3]
    )
    home_m = written["walks"][0]["home"]["leg_m"]
    assert sum(stop["leg_m"] for stop in written["stops"]) + home_m == pytest.approx(
        written["length_m"], abs=0.5
    )
    assert written["proof"]["text"] == "optimal"
    assert written["leave_at"] == "09:00"
    assert written["walks"][0]["returns_at"] == clock(9 * 60.0 + found.minutes)
    assert written["walks"][0]["profile"]["along_m"][-1] == pytest.approx(
        written["length_m"], abs=0.5
    )


def test_geojson_has_a_line_for_each_leg_and_a_point_for_each_box() -> None:
    collection = round_geojson(planned(AROUND))
    kinds = [feature["geometry"]["type"] for feature in collection["features"]]
    assert (kinds.count("LineString"), kinds.count("Point")) == (4, 3)
    shapes = [shapely.geometry.shape(feature["geometry"]) for feature in collection["features"]]
    assert all(shape.is_valid for shape in shapes)
