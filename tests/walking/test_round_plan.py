"""Rounds over real paths: what is visited, in which order, and within which limits."""

from __future__ import annotations

from typing import Any

import pytest

from layers.walking.network.barriers import Barrier
from layers.walking.pace import NORMAL, Flat
from layers.walking.round import plan
from layers.walking.round.legs import instruction
from layers.walking.round.written import round_json
from tests.walking.parks import site, square
from tests.walking.small_rounds import AROUND, park_problem, planned, request


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
