"""Rounds over real paths: what is visited, in which order, and what is said about it."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely

from layers.errors import BadValue
from layers.walking.network.barriers import Barrier
from layers.walking.network.build import build_network
from layers.walking.network.graph import Network
from layers.walking.pace import NORMAL, Flat
from layers.walking.round import Round, RoundProblem, StopRequest, plan
from layers.walking.round.legs import instruction
from layers.walking.round.problem import clock
from layers.walking.round.written import round_geojson, round_json
from tests.walking.parks import PLANE, line, make_park, site, square

LOOP = build_network([line((0, 0), (300, 0), (300, 200), (0, 200), (0, 0))])[0]
CAR_PARK = site(0, 0, "Car Park")


def request(x: float, y: float, box: str, **asked: Any) -> StopRequest:
    at = site(x, y, box)
    return StopRequest(box, at.lon, at.lat, **asked)


def planned(requests: list[StopRequest], *, network: Network = LOOP, **asked: Any) -> Round:
    start = asked.pop("start", CAR_PARK)
    return plan(RoundProblem(network, tuple(requests), start, **asked), pace=Flat(5.0))


def park_problem(boxes: int, **asked: Any) -> RoundProblem:
    park = make_park(3, boxes=60)
    network, _ = build_network(park.lines())
    requests = [
        StopRequest(at.name, at.lon, at.lat, urgency=1.0 + number % 5)
        for number, at in enumerate(park.sites()[:boxes])
    ]
    return RoundProblem(network, tuple(requests), site(500, 20, "Car Park"), **asked)


AROUND = [request(300, 100, "B2"), request(150, -3, "B1"), request(150, 205, "B3")]


def test_boxes_are_visited_once_around_the_loop() -> None:
    found = planned(AROUND)
    order = [box for stop in found.walks[0].stops for box in stop.boxes]
    assert order in (["B1", "B2", "B3"], ["B3", "B2", "B1"])
    assert found.length_m == pytest.approx(1000.0 + 2 * 3 + 2 * 5, abs=0.01)
    assert str(found.proof) == "optimal"
    assert (found.left_out, found.warnings) == ((), ())


def test_time_is_walking_and_stops() -> None:
    found = planned([request(150, 0, "B1", minutes=7.0)])
    assert found.minutes == pytest.approx(300.0 * 0.06 / 5.0 + 7.0, abs=1e-3)


def test_the_round_may_end_elsewhere() -> None:
    found = planned(AROUND, end=site(0, 200, "Gate"))
    assert [stop.boxes[0] for stop in found.walks[0].stops] == ["B1", "B2", "B3"]
    assert found.walks[0].home is not None
    assert found.walks[0].home.end == "Gate"
    assert found.length_m == pytest.approx(800.0 + 16.0, abs=0.01)


def test_boxes_back_to_back_share_one_stop() -> None:
    found = planned([request(150, 3, "B1", minutes=4), request(154, 3, "B2", minutes=5), AROUND[2]])
    shared = next(stop for stop in found.walks[0].stops if "B1" in stop.boxes)
    assert (shared.boxes, shared.minutes) == (("B1", "B2"), 9.0)
    assert shared.leg.end == "B1 and B2"


def test_boxes_with_water_between_them_are_two_stops() -> None:
    ditch = Barrier("Ditch", "water", square(152, 8, 3))
    requests = [request(147, 8, "B1"), request(156, 8, "B2")]
    assert len(planned(requests).walks[0].stops) == 1
    assert len(planned(requests, barriers=(ditch,)).walks[0].stops) == 2


def test_a_box_to_look_at_is_not_walked_up_to() -> None:
    found = planned([request(150, -30, "B1", watch_only=True)])
    (stop,) = found.walks[0].stops
    assert (stop.watch_only, stop.leg.off_path_m) == (True, 0.0)
    assert found.length_m == pytest.approx(300.0, abs=0.01)
    said = instruction(stop.leg, watch_only=True)
    assert said == ("follow Pond Loop east 150 m; watch B1 on the right from the path, 30 m away")


def test_a_budget_leaves_out_the_least_urgent_with_the_reason() -> None:
    requests = [request(100, 0, "B1", urgency=1), request(0, 100, "B2", urgency=9)]
    found = planned(requests, budget_minutes=8.0)
    assert [stop.boxes for stop in found.walks[0].stops] == [("B2",)]
    assert [(left.box, left.reason) for left in found.left_out] == [
        ("B1", "more urgent boxes take the time there is")
    ]
    assert found.minutes <= 8.0


def test_a_budget_too_small_for_any_box_says_so() -> None:
    found = planned(AROUND, budget_minutes=3.0)
    assert found.walks[0].stops == ()
    assert found.minutes == 0.0
    assert found.left_out[0].reason == "it alone takes 9 minutes, and there are 3"
    assert found.warnings == ("No box can be visited; each has its reason.",)


def test_hours_are_kept_by_waiting_and_by_order() -> None:
    requests = [
        request(100, 0, "B1", opens_at=9 * 60.0),
        request(200, 0, "B2", closes_at=8 * 60.0 + 10),
    ]
    first, second = planned(requests).walks[0].stops
    assert (first.boxes, second.boxes) == (("B2",), ("B1",))
    assert second.arrives + second.waits == pytest.approx(60.0)
    assert second.waits > 0.0


def test_hours_that_nobody_can_keep_are_said() -> None:
    found = planned([request(300, 200, "B1", closes_at=8 * 60.0 + 1)])
    assert found.left_out[0].reason == "it takes 6 minutes to get there, too late for its hours"


def test_hours_that_exclude_each_other_are_said() -> None:
    requests = [
        request(290, 0, "B1", closes_at=8 * 60.0 + 5),
        request(0, 190, "B2", closes_at=8 * 60.0 + 5),
    ]
    found = planned(requests)
    assert [left.reason for left in found.left_out] == [
        "its hours do not fit with those of other boxes"
    ]


def test_several_walkers_come_home_at_about_the_same_time() -> None:
    requests = [request(60 + 60 * i, 0, f"E{i}") for i in range(4)]
    requests += [request(0, 60 + 40 * i, f"N{i}") for i in range(4)]
    found = planned(requests, walkers=2)
    minutes = sorted(walk.minutes for walk in found.walks)
    assert minutes[1] - minutes[0] < 8.0
    visited = [box for walk in found.walks for stop in walk.stops for box in stop.boxes]
    assert sorted(visited) == sorted(request.box for request in requests)
    assert found.minutes == minutes[1]


def test_no_box_makes_an_empty_round_that_says_so() -> None:
    found = planned([])
    assert found.warnings == ("There is no box to visit.",)
    assert (found.minutes, found.length_m, found.left_out) == (0.0, 0.0, ())
    assert round_json(found)["stops"] == []


def test_one_box_is_there_and_back() -> None:
    found = planned([request(100, 0, "B1")])
    assert found.length_m == pytest.approx(200.0, abs=0.01)


def test_all_boxes_at_one_point_are_one_stop() -> None:
    found = planned([request(150, 4, f"B{number}") for number in range(30)])
    assert len(found.walks[0].stops) == 1
    assert len(found.walks[0].stops[0].boxes) == 30


def test_a_box_at_the_start_needs_no_walk() -> None:
    found = planned([request(0, 0, "B1")])
    assert (found.length_m, found.minutes) == (0.0, 5.0)
    assert instruction(found.walks[0].stops[0].leg) == "B1 is here"


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


@pytest.mark.parametrize(
    "asked", [{}, pytest.param({"budget_minutes": 150.0}, marks=pytest.mark.long), {"walkers": 3}]
)
def test_a_problem_gives_the_same_round_again(asked: dict[str, Any]) -> None:
    first, again = (plan(park_problem(30, **asked), pace=NORMAL) for _ in range(2))
    assert round_json(first) == round_json(again)


def test_sixty_boxes_are_visited_once_each_and_the_bound_is_close() -> None:
    problem = park_problem(60)
    found = plan(problem, pace=NORMAL)
    visited = [box for stop in found.walks[0].stops for box in stop.boxes]
    assert sorted(visited) == sorted(request.box for request in problem.requests)
    assert found.proof.gap <= 0.01
    assert found.minutes == pytest.approx(
        sum(leg.minutes for leg in found.walks[0].legs) + 60 * 5.0, abs=1e-6
    )


def test_a_plan_stopped_early_gives_the_best_so_far() -> None:
    problem = park_problem(60, walkers=2)
    asked = 0

    def enough() -> bool:
        nonlocal asked
        asked += 1
        return asked > 2

    found = plan(problem, pace=Flat(), enough=enough)
    visited = [box for walk in found.walks for stop in walk.stops for box in stop.boxes]
    assert sorted(visited) == sorted(request.box for request in problem.requests)
    assert found.proof.bound <= found.proof.value


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


def test_the_order_given_is_kept_where_that_is_asked() -> None:
    requests = [AROUND[0], AROUND[1], request(154, -3, "B4"), AROUND[2]]
    found = planned(requests, keep_order=True, budget_minutes=1.0)
    assert [stop.boxes for stop in found.walks[0].stops] == [("B2",), ("B1", "B4"), ("B3",)]
    assert found.left_out == ()
    assert found.minutes > planned(requests).minutes
    assert (found.proof.measure, found.proof.optimal) == ("minutes", False)
    assert found.proof.bound == pytest.approx(planned(requests).minutes, abs=1e-6)


@pytest.mark.parametrize("asked", [{"walkers": 2}, {"budget_minutes": 150.0}])
def test_a_walk_opened_again_in_its_order_keeps_its_numbers(asked: dict[str, Any]) -> None:
    problem = park_problem(30, **asked)
    requests = {request.box: request for request in problem.requests}
    for walk in plan(problem, pace=NORMAL).walks:
        boxes = [box for stop in walk.stops for box in stop.boxes]
        again = RoundProblem(
            problem.network, tuple(requests[box] for box in boxes), problem.start, keep_order=True
        )
        (kept,) = plan(again, pace=NORMAL).walks
        assert [stop.boxes for stop in kept.stops] == [stop.boxes for stop in walk.stops]
        assert (kept.minutes, kept.length_m) == pytest.approx((walk.minutes, walk.length_m))


def test_hours_are_waited_for_in_the_order_given_and_their_end_leaves_none_out() -> None:
    requests = [
        request(100, 0, "B1", opens_at=9 * 60.0),
        request(200, 0, "B2", closes_at=8 * 60.0 + 10),
    ]
    first, second = planned(requests, keep_order=True).walks[0].stops
    assert (first.boxes, second.boxes) == (("B1",), ("B2",))
    assert first.arrives + first.waits == pytest.approx(60.0)


def test_the_order_given_is_for_one_walker() -> None:
    with pytest.raises(BadValue, match="one walker for boxes in the order given, got 2 walkers"):
        planned(AROUND, keep_order=True, walkers=2)


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


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"minutes": -1.0}, "minutes at B1 from 0"),
        ({"urgency": 0.0}, "urgency of B1 above 0"),
        ({"urgency": math.inf}, "urgency of B1 above 0"),
        ({"opens_at": 2000.0}, "time of day for B1"),
        ({"opens_at": 600.0, "closes_at": 540.0}, "begin before they end, got 10:00 to 09:00"),
    ],
)
def test_a_call_that_makes_no_sense_is_refused(asked: dict[str, Any], said: str) -> None:
    with pytest.raises(BadValue, match=said):
        StopRequest("B1", 0.0, 0.0, **asked)


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"budget_minutes": 0.0}, "more than 0 minutes"),
        ({"walkers": 0}, "1 to 20 walkers"),
        ({"leave_at": -5.0}, "time of day to leave at"),
    ],
)
def test_a_problem_that_makes_no_sense_is_refused(asked: dict[str, Any], said: str) -> None:
    with pytest.raises(BadValue, match=said):
        planned(AROUND, **asked)


def test_a_box_asked_for_twice_is_refused() -> None:
    with pytest.raises(BadValue, match="each box once, got B1"):
        planned([request(1, 0, "B1"), request(100, 0, "B1")])


def test_clock_times_past_midnight_go_on() -> None:
    assert [clock(0.0), clock(545.4), clock(1445.0)] == ["00:00", "09:05", "00:05"]
