"""How good a plan is at worst."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from layers.walking.round.bound import tour_bound
from layers.walking.round.exact import MOST_STOPS, best_orders
from layers.walking.round.limits import MOST_PLACES, Relaxation
from layers.walking.round.result import Proof
from layers.walking.round.single import UNITS
from layers.walking.round.task import SLACK, Orders, Task, merit

Floats = NDArray[np.float64]
Wanted = Callable[[], bool]


def prove(task: Task, plan: Orders, *, wanted: Wanted) -> Proof:
    """How good a plan is at worst; less is known where `wanted` says no."""
    worth, longest, _ = merit(task, plan)
    everything = round(task.worth(range(1, task.end)), 6)
    many = task.walkers > 1
    measure = "minutes of the longest walk" if many else "minutes"
    if task.stops <= MOST_STOPS:
        return Proof(measure, longest, longest, optimal=True)
    if -worth < everything:
        limited = np.isfinite(task.budget)
        most = min(_most_urgency(task, wanted), everything) if limited else everything
        return Proof("urgency", -worth, most, optimal=-worth >= most - SLACK)
    if not many:
        return _compared(task, measure, longest, _least_minutes(task, plan[0], wanted))
    alone = max(task.finish([stop]) for stop in range(1, task.end))
    return _compared(task, measure, longest, max(_least_longest(task, plan, wanted), alone))


def prove_order(task: Task, order: tuple[int, ...], *, wanted: Wanted) -> Proof:
    """How good an order that was given is at worst, among all orders of its stops."""
    few = task.stops <= MOST_STOPS
    bound = task.finish(best_orders(task)[0]) if few else _least_minutes(task, order, wanted)
    return _compared(task, "minutes", task.finish(order), bound)


def _compared(task: Task, measure: str, minutes: float, bound: float) -> Proof:
    # Whole numbers are rounded down by up to a unit for each leg.
    optimal = minutes <= bound + (task.stops + 1) * 2.0 / UNITS
    return Proof(measure, minutes, minutes if optimal else bound, optimal=optimal)


def _steady(task: Task) -> Floats:
    """Minutes between places, as even as can be there and back.

    Uphill costs more and downhill less, and on a round they nearly cancel. Taking off a
    height for each stop leaves every walk as long as it was.
    """
    inner = task.passable[1:-1, 1:-1]
    uneven = (inner - inner.T) / 2.0
    there = np.isfinite(task.minutes[1:-1, 1:-1])
    uneven[~(there & there.T)] = 0.0
    height = np.r_[0.0, uneven.mean(axis=0), 0.0]
    steady: Floats = task.passable - height[None, :] + height[:, None]
    return steady


def _least(steady: Floats) -> Floats:
    """Symmetric minutes that no walk undercuts; the start is only left, the end only reached."""
    least = np.minimum(steady, steady.T)
    least[0, :] = least[:, 0] = steady[0, :]
    least[-1, :] = least[:, -1] = steady[:, -1]
    return least


def _least_minutes(task: Task, order: tuple[int, ...], wanted: Wanted) -> float:
    """Minutes that one walker needs for all stops; `order` is a good order of them."""
    steady = _steady(task)
    least = _least(steady)
    cost = np.floor(least * UNITS).astype(np.int64)
    np.fill_diagonal(cost, 0)
    tour = np.array([0, *order, task.end])
    # Where there and back differ, the bound falls short of any round: it can prove none.
    exact = np.allclose(least[1:-1, 1:-1], steady[1:-1, 1:-1])
    walking = tour_bound(cost, tour, tied=(0, task.end), branch=exact, wanted=wanted) / UNITS
    return float(task.service.sum()) + walking


def _least_longest(task: Task, plan: Orders, wanted: Wanted) -> float:
    """Minutes that the longest of several walks takes at least."""
    if task.stops <= MOST_PLACES:
        longest = merit(task, plan)[1]
        return Relaxation(task, _least(_steady(task)), wanted).least_longest(longest)
    ways_in = _ways_in(task)
    return float(task.service.sum() + ways_in.sum()) / task.walkers


def _ways_in(task: Task) -> Floats:
    """The shortest way to each stop from any other place."""
    ways_in = task.minutes[: task.end, 1 : task.end].copy()
    np.fill_diagonal(ways_in[1:], np.inf)
    return np.asarray(ways_in.min(axis=0))


def _most_urgency(task: Task, wanted: Wanted) -> float:
    """More urgency than fits the time of all walkers."""
    if task.stops <= MOST_PLACES:
        return Relaxation(task, _least(_steady(task)), wanted).most_urgency()
    # Parts of stops are allowed, and each is entered the shortest way.
    cost = np.maximum(task.service[1:-1] + _ways_in(task), 1e-9)
    urgency = task.urgency[1:-1]
    best = np.argsort(-urgency / cost, kind="stable")
    before = np.r_[0.0, np.cumsum(cost[best])[:-1]]
    share = np.clip((task.budget * task.walkers - before) / cost[best], 0.0, 1.0)
    return float((share * urgency[best]).sum())
