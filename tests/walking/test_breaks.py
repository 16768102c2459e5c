"""Breaks: plans against walking every order with a clock that stops for each break."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from typing import Any

import pytest

from layers.errors import BadValue
from layers.walking.network.build import build_network
from layers.walking.network.graph import Network
from layers.walking.pace import Flat
from layers.walking.round import RoundProblem, StopRequest, plan
from layers.walking.round.breaks import Breaks
from layers.walking.round.clock import clock
from layers.walking.round.legs import instruction
from layers.walking.round.prepare import prepare
from layers.walking.round.shifts import Shift, share_out
from tests.walking.parks import line, site
from tests.walking.small_rounds import AROUND, CAR_PARK, LOOP, planned, request

EIGHT = 8 * 60.0
LARGE, _ = build_network([line((0, 0), (1500, 0), (1500, 1000), (0, 1000), (0, 0), (1500, 1000))])
PLACES = [(700, 3), (1503, 400), (1400, 997), (500, 1003), (2, 600), (900, 596)]


class Watch:
    """Minutes since leaving, of which each is walked, waited, at a box or a break."""

    def __init__(self, breaks: Breaks) -> None:
        self.breaks, self.now, self.next_break = breaks, 0.0, breaks.after

    def go_on(self, minutes: float) -> None:
        """Some minutes between boxes, with a break as soon as one is due."""
        left = minutes
        while self.breaks.minutes and self.next_break <= left + 1e-7:
            left -= self.next_break
            self.now += self.next_break + self.breaks.minutes
            self.next_break = self.breaks.after
        self.now += left
        self.next_break -= left

    def stay(self, minutes: float) -> None:
        """Some minutes at a box, during which no break is taken."""
        self.now += minutes
        self.next_break -= minutes

    def wait_until(self, opens: float) -> None:
        while self.now < opens - 1e-7:
            self.go_on(min(opens - self.now, self.next_break))


def finish(problem: RoundProblem, minutes: Any, order: tuple[int, ...]) -> float:
    """When a walk is over, minute by minute; infinite where it comes too late for some hours.

    A break that falls due at a box begins when that is left, the next one is due as if it had not
    been late.
    """
    watch, here = Watch(problem.breaks), 0
    for stop in order:
        one = problem.requests[stop - 1]
        watch.go_on(float(minutes[here, stop]))
        if one.opens_at is not None:
            watch.wait_until(one.opens_at - problem.leave_at)
        if one.closes_at is not None and watch.now > one.closes_at - problem.leave_at + 1e-4:
            return math.inf
        watch.stay(one.minutes)
        here = stop
    watch.go_on(float(minutes[here, -1]))
    return watch.now


def walking(problem: RoundProblem) -> Any:
    """Minutes on foot between start, boxes and end."""
    free = RoundProblem(problem.network, problem.requests, problem.start)
    prepared = prepare(replace(free, requests=tuple(map(free_of_hours, free.requests))), Flat(5.0))
    return prepared.arrays.minutes


def free_of_hours(one: StopRequest) -> StopRequest:
    return replace(one, opens_at=None, closes_at=None)


def best_of_all(problem: RoundProblem) -> tuple[float, float]:
    """Most urgency, then fewest minutes, among all orders of all sets of boxes."""
    groups, on_foot = problem.requests, walking(problem)
    limit = math.inf if problem.budget_minutes is None else problem.budget_minutes + 1e-4
    best = (0.0, 0.0)
    for size in range(1, len(groups) + 1):
        for order in itertools.permutations(range(1, len(groups) + 1), size):
            minutes = finish(problem, on_foot, order)
            if minutes <= limit:
                best = min(best, (-sum(groups[stop - 1].urgency for stop in order), minutes))
    return best


def made(breaks: Breaks, *, hours: bool = False, **asked: Any) -> RoundProblem:
    requests = []
    for number, (x, y) in enumerate(PLACES):
        at = site(x, y, f"B{number}")
        times: dict[str, Any] = {}
        if hours and number % 2:
            times = {"opens_at": EIGHT + 37.0 * number}
        elif hours:
            times = {"closes_at": EIGHT + 55.0 + 20.0 * number}
        urgency = 1.0 + number % 3
        requests.append(StopRequest(at.name, at.lon, at.lat, minutes=7.0, urgency=urgency, **times))
    return RoundProblem(LARGE, tuple(requests), CAR_PARK, breaks=breaks, **asked)


@pytest.mark.parametrize("breaks", [Breaks(30.0, 60.0), Breaks(10.0, 25.0), Breaks(45.0, 41.0)])
@pytest.mark.parametrize(
    "asked",
    [{}, {"budget_minutes": 95.0}, {"hours": True}, {"hours": True, "budget_minutes": 110.0}],
)
def test_a_round_with_breaks_is_the_best_of_all_orders(
    breaks: Breaks, asked: dict[str, Any]
) -> None:
    problem = made(breaks, **asked)
    found = plan(problem, pace=Flat(5.0))
    urgency = {one.box: one.urgency for one in problem.requests}
    done = sum(urgency[box] for stop in found.walks[0].stops for box in stop.boxes)
    assert (-done, found.minutes) == pytest.approx(best_of_all(problem), abs=1e-3)
    assert found.proof.optimal
    if "budget_minutes" in asked:
        assert found.minutes <= asked["budget_minutes"]


def test_arrivals_waits_and_breaks_add_up_to_the_time_on_the_watch() -> None:
    problem = made(Breaks(30.0, 41.0), hours=True)
    walk = plan(problem, pace=Flat(5.0)).walks[0]
    boxes = sorted(one.box for one in problem.requests)
    order = tuple(boxes.index(stop.boxes[0]) + 1 for stop in walk.stops)
    assert walk.minutes == pytest.approx(finish(problem, walking(problem), order), abs=1e-4)
    now = 0.0
    for stop in walk.stops:
        rest = 0.0 if stop.leg.rest is None else stop.leg.rest.minutes
        assert stop.arrives == pytest.approx(now + stop.leg.minutes + rest, abs=1e-6)
        if stop.leg.rest is not None:
            assert now - 1e-6 <= stop.leg.rest.begins_at - EIGHT <= stop.arrives - rest + 1e-6
        now = stop.arrives + stop.waits + stop.minutes
    assert any(stop.leg.rest for stop in walk.stops)
    assert sum(stop.waits for stop in walk.stops) > 0.0


def test_an_instruction_names_the_break_and_when_it_begins() -> None:
    found = planned(AROUND, breaks=Breaks(20.0, 7.0))
    legs = [leg for leg in found.walks[0].legs if leg.rest is not None]
    rest = legs[0].rest
    assert rest is not None
    assert instruction(legs[0]).startswith(f"break of 20 min from {clock(rest.begins_at)}; ")
    # 1 km at 5 km/h and three visits of 5 minutes: 27 minutes, in which three breaks fall due.
    assert sum(leg.rest.minutes for leg in legs if leg.rest) == 60.0
    assert found.minutes == pytest.approx(planned(AROUND).minutes + 60.0)


def test_several_walkers_take_breaks_and_keep_the_limit() -> None:
    found = plan(made(Breaks(15.0, 30.0), walkers=2, budget_minutes=62.0), pace=Flat(5.0))
    assert max(walk.minutes for walk in found.walks) <= 62.0
    assert any(leg.rest for walk in found.walks for leg in walk.legs)


def test_a_shift_is_filled_less_by_the_break() -> None:
    def visited(network: Network, breaks: Breaks) -> int:
        problem = RoundProblem(network, tuple(AROUND), CAR_PARK, breaks=breaks)
        orders, left = share_out(problem, [Shift(28.0, frozenset({"B1", "B2", "B3"}))], pace=Flat())
        assert len(orders[0]) + len(left) == 3
        return len(orders[0])

    assert visited(LOOP, Breaks()) == 3
    assert visited(LOOP, Breaks(10.0, 15.0)) == 1


def test_the_reason_of_a_box_too_far_off_counts_the_break() -> None:
    far = request(300, 200, "B9", minutes=30.0)
    found = planned([far], budget_minutes=50.0, breaks=Breaks(30.0, 20.0))
    assert [left.reason for left in found.left_out] == [
        "it alone takes 102 minutes, and there are 50"
    ]


@pytest.mark.parametrize("given", [(-1.0, 60.0), (30.0, 0.0), (2000.0, 60.0), (math.nan, 60.0)])
def test_a_break_that_cannot_be_is_refused(given: tuple[float, float]) -> None:
    with pytest.raises(BadValue, match="break"):
        Breaks(*given)
