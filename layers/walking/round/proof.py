"""How good a plan is at worst."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from layers.walking.round import columns
from layers.walking.round.arrays import SLACK, Orders, ProblemArrays, merit
from layers.walking.round.bound import tour_bound
from layers.walking.round.exact import MAX_STOPS, best_orders
from layers.walking.round.limits import MAX_PLACES, Relaxation
from layers.walking.round.result import Proof
from layers.walking.round.single import UNITS

Floats = NDArray[np.float64]
GoOn = Callable[[], bool]


def prove(arrays: ProblemArrays, plan: Orders, *, go_on: GoOn) -> Proof:
    """How good a plan is at worst; less is known where `go_on` says no."""
    worth, longest, _ = merit(arrays, plan)
    everything = round(arrays.worth(range(1, arrays.end)), 6)
    many = arrays.walkers > 1
    measure = "minutes of the longest walk" if many else "minutes"
    if arrays.stops <= MAX_STOPS:
        return Proof(measure, longest, longest, optimal=True)
    if -worth < everything:
        limited = np.isfinite(arrays.budget)
        most = min(_most_urgency(arrays, plan, go_on), everything) if limited else everything
        return Proof("urgency", -worth, most, optimal=-worth >= most - SLACK)
    if not many:
        return _compared(arrays, measure, longest, _least_minutes(arrays, plan[0], go_on))
    alone = max(arrays.finish([stop]) for stop in range(1, arrays.end))
    return _compared(arrays, measure, longest, max(_least_longest(arrays, plan, go_on), alone))


def prove_order(arrays: ProblemArrays, order: tuple[int, ...], *, go_on: GoOn) -> Proof:
    """How good an order that was given is at worst, among all orders of its stops."""
    few = arrays.stops <= MAX_STOPS
    bound = arrays.finish(best_orders(arrays)[0]) if few else _least_minutes(arrays, order, go_on)
    return _compared(arrays, "minutes", arrays.finish(order), bound)


def _compared(arrays: ProblemArrays, measure: str, minutes: float, bound: float) -> Proof:
    # Whole numbers are rounded down by up to a unit for each leg.
    optimal = minutes <= bound + (arrays.stops + 1) * 2.0 / UNITS
    return Proof(measure, minutes, minutes if optimal else bound, optimal=optimal)


def _steady(arrays: ProblemArrays) -> Floats:
    """Minutes between places, as even as can be there and back.

    Uphill costs more and downhill less, and on a round they nearly cancel. Taking off a
    height for each stop leaves every walk as long as it was.
    """
    inner = arrays.walkable[1:-1, 1:-1]
    uneven = (inner - inner.T) / 2.0
    there = np.isfinite(arrays.minutes[1:-1, 1:-1])
    uneven[~(there & there.T)] = 0.0
    height = np.r_[0.0, uneven.mean(axis=0), 0.0]
    steady: Floats = arrays.walkable - height[None, :] + height[:, None]
    return steady


def _least(steady: Floats) -> Floats:
    """Symmetric minutes that no walk undercuts; the start is only left, the end only reached."""
    least = np.minimum(steady, steady.T)
    least[0, :] = least[:, 0] = steady[0, :]
    least[-1, :] = least[:, -1] = steady[:, -1]
    return least


def _least_minutes(arrays: ProblemArrays, order: tuple[int, ...], go_on: GoOn) -> float:
    """Minutes that one walker needs for all stops; `order` is a good order of them."""
    steady = _steady(arrays)
    least = _least(steady)
    # There and back differ by no more than rounding: the smaller problem of edges will do.
    even = np.allclose(least[1:-1, 1:-1], steady[1:-1, 1:-1])
    cost = np.floor((least if even else steady) * UNITS).astype(np.int64)
    np.fill_diagonal(cost, 0)
    tour = np.array([0, *order, arrays.end])
    walking = tour_bound(cost, tour, tied=(0, arrays.end), go_on=go_on) / UNITS
    return float(arrays.service.sum()) + walking


def _least_longest(arrays: ProblemArrays, plan: Orders, go_on: GoOn) -> float:
    """Minutes that the longest of several walks takes at least."""
    if arrays.stops <= MAX_PLACES:
        longest = merit(arrays, plan)[1]
        return Relaxation(arrays, _least(_steady(arrays)), go_on).least_longest(longest)
    ways_in = _ways_in(arrays)
    return float(arrays.service.sum() + ways_in.sum()) / arrays.walkers


def _ways_in(arrays: ProblemArrays) -> Floats:
    """The shortest way to each stop from any other place."""
    ways_in = arrays.minutes[: arrays.end, 1 : arrays.end].copy()
    np.fill_diagonal(ways_in[1:], np.inf)
    return np.asarray(ways_in.min(axis=0))


def _most_urgency(arrays: ProblemArrays, plan: Orders, go_on: GoOn) -> float:
    """More urgency than fits the time of all walkers."""
    if arrays.stops <= MAX_PLACES and arrays.walkers > 1:
        return columns.most_urgency(arrays, plan, go_on)
    if arrays.stops <= MAX_PLACES:
        return Relaxation(arrays, _least(_steady(arrays)), go_on).most_urgency()
    # Parts of stops are allowed, and each is entered the shortest way.
    cost = np.maximum(arrays.service[1:-1] + _ways_in(arrays), 1e-9)
    urgency = arrays.urgency[1:-1]
    best = np.argsort(-urgency / cost, kind="stable")
    before = np.r_[0.0, np.cumsum(cost[best])[:-1]]
    share = np.clip((arrays.budget * arrays.walkers - before) / cost[best], 0.0, 1.0)
    return float((share * urgency[best]).sum())
