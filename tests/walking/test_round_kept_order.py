"""Rounds in the order given: a walk that was planned before keeps its numbers."""

from __future__ import annotations

from typing import Any

import pytest

from layers.errors import BadValue
from layers.walking.pace import NORMAL
from layers.walking.round import RoundProblem, plan
from tests.walking.small_rounds import AROUND, park_problem, planned, request


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
