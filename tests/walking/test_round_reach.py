"""What a round reaches and what it does not: starts, islands, zones, one-way paths, water."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from layers.errors import BadValue
from layers.walking.network.barriers import Barrier
from layers.walking.network.build import build_network
from layers.walking.pace import Flat
from layers.walking.round import RoundProblem, plan
from layers.walking.round.legs import instruction
from tests.walking.parks import PLANE, line, site, square
from tests.walking.small_rounds import AROUND, park_problem, planned, request


def test_a_round_without_a_start_is_refused() -> None:
    with pytest.raises(BadValue, match="Expected a place to start from, got none"):
        planned(AROUND, start=None)


def test_a_start_off_the_network_is_refused_with_the_reason() -> None:
    with pytest.raises(BadValue, match=r"start that can be reached.*Far Gate: it is more"):
        planned(AROUND, start=site(0, -5_100, "Far Gate"))


def test_a_start_far_from_every_path_begins_with_a_leg_over_open_ground() -> None:
    found = planned(AROUND, start=site(0, -900, "Far Gate"))
    assert found.warnings == ("Far Gate is 900 m off the path.",)
    assert found.length_m == pytest.approx(1000.0 + 2 * 900 + 2 * 3 + 2 * 5, abs=0.1)


def test_an_end_on_another_island_is_refused_with_the_reason() -> None:
    lines = [line((0, 0), (300, 0)), line((0, 400), (300, 400), name="Islet")]
    with pytest.raises(BadValue, match=r"end that can be reached.*Islet.*does not connect"):
        planned(AROUND[:1], network=build_network(lines)[0], end=site(0, 402, "Jetty"))


def test_boxes_on_an_island_of_paths_are_left_out_with_the_reason() -> None:
    lines = [line((0, 0), (300, 0)), line((0, 400), (300, 400), name="Islet")]
    found = planned([request(50, 3, "B1"), request(50, 397, "B2")], network=build_network(lines)[0])
    assert [(left.box, left.reason) for left in found.left_out] == [
        ("B2", "Islet, the path nearest to it, does not connect with the start")
    ]


def test_a_box_in_a_keep_out_zone_is_left_out_with_the_reason() -> None:
    zone = Barrier("Heron Bank", "keep_out", square(150, 10, 10))
    found = planned([request(150, 10, "B1"), request(100, 0, "B2")], barriers=(zone,))
    assert [left.reason for left in found.left_out] == ["it stands in keep-out zone (Heron Bank)"]


def test_a_box_down_a_one_way_path_with_no_way_back_is_left_out() -> None:
    lines = [line((0, 0), (300, 0)), line((300, 0), (300, 90), name="Chute", one_way=True)]
    found = planned([request(300, 60, "B1")], network=build_network(lines)[0])
    assert found.left_out[0].reason == "no way leads from there to the end"


ONE_WAY_EYE = build_network(
    [
        line((0, 0), (300, 150), (600, 0), name="North Way", one_way=True),
        line((0, 0), (300, -150), (600, 0), name="South Way", one_way=True),
    ]
)[0]


@pytest.mark.parametrize("each", [3, 9])
@pytest.mark.parametrize("walkers", [1, 2])
def test_boxes_on_one_way_paths_that_part_are_seen_by_one_walker_each(
    each: int, walkers: int
) -> None:
    requests = [
        request(20 + 250 * number / each, side * (10 + 125 * number / each), f"{name}{number}")
        for number in range(each)
        for side, name in ((1.0, "N"), (-1.0, "S"))
    ]
    requests[0] = replace(requests[0], urgency=2.0)
    jetty = site(600, 0, "Jetty")
    found = planned(requests, network=ONE_WAY_EYE, end=jetty, walkers=walkers)
    walks = [[box for stop in walk.stops for box in stop.boxes] for walk in found.walks]
    north, south = ([f"{name}{number}" for number in range(each)] for name in "NS")
    assert sorted(walks) == sorted([north, south][:walkers])
    left = {f"S{number}" for number in range(each)} if walkers == 1 else set()
    assert {left_out.box for left_out in found.left_out} == left
    assert {left_out.reason for left_out in found.left_out} <= {
        "no walk leads by it and by the other boxes, as some paths are one-way"
    }
    assert found.proof.bound >= found.proof.value if walkers == 1 else not found.left_out


def test_many_boxes_along_a_one_way_path_are_seen_in_its_direction() -> None:
    network = build_network([line((0, 0), (900, 0), name="Ride", one_way=True)])[0]
    requests = [request(60 * number, 3, f"B{number:02}") for number in range(1, 15)]
    found = planned(requests[::-1], network=network, end=site(900, 0, "Jetty"))
    assert [stop.boxes[0] for stop in found.walks[0].stops] == [one.box for one in requests]
    assert found.proof.bound <= found.proof.value


def test_without_paths_legs_are_straight_and_the_round_says_so() -> None:
    found = planned(AROUND, network=build_network([])[0])
    assert found.straight
    assert found.warnings == (
        "The trail has no paths: legs are straight lines around water and zones.",
    )
    assert instruction(found.walks[0].stops[0].leg).startswith("walk straight ")


def test_no_leg_off_the_path_crosses_water() -> None:
    problem = park_problem(40)
    ponds = [
        Barrier("pond", "water", square(x, y, 25.0))
        for x, y in np.random.default_rng(8).uniform(-450, 450, (60, 2))
    ]
    found = plan(
        RoundProblem(problem.network, problem.requests, problem.start, barriers=tuple(ponds)),
        pace=Flat(),
    )
    inner = shapely.union_all(
        [shapely.transform(p.shape, lambda at: PLANE.xy(*at.T)).buffer(-0.1) for p in ponds]
    )
    off_path = []
    for leg in found.walks[0].legs:
        xy = PLANE.xy(leg.way.lon, leg.way.lat)
        off_path += [shapely.LineString(xy[:2]), shapely.LineString(xy[-2:])]
    stops = {(stop.lon, stop.lat) for stop in found.walks[0].stops}
    paths = shapely.union_all(
        [shapely.LineString(PLANE.xy(p.lon, p.lat)) for p in problem.network.lines]
    ).buffer(0.05)
    legs = [leg for leg in off_path if not leg.within(paths)]
    assert len(stops) > 10
    assert len(legs) > 10
    assert not any(leg.intersects(inner) for leg in legs)


def test_hazards_near_the_way_are_named_and_others_are_not() -> None:
    hazards = (site(230, 12, "bull in the field"), site(150, 100, "quarry"))
    assert planned(AROUND, hazards=hazards).warnings == ("Hazard near the way: bull in the field.",)


def test_a_long_leg_off_the_path_is_warned_of() -> None:
    found = planned([request(150, -130, "B1")])
    assert found.warnings == ("B1 is 130 m off the path.",)
