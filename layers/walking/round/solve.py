"""Which solver does what."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from layers.walking.round.exact import MOST_STOPS, best_orders
from layers.walking.round.single import orders
from layers.walking.round.task import SLACK, Orders, Task

Floats = NDArray[np.float64]

STEPS_PER_STOP = 600
"""Steps of the search for one walker: found by trial to reach the proven shortest tour of
published instances up to 100 stops."""

MOST_STEPS = 300_000

SHARED_STEPS = 2_000
"""Steps of the search with a budget, hours or several walkers. Chosen by trial."""


def solutions(
    task: Task, *, steps: int | None, seed: int, wanted: Callable[[], bool]
) -> Iterator[tuple[Orders, float]]:
    """Better and better plans, with the share of the work that is done."""
    if task.stops <= MOST_STOPS:
        yield best_orders(task), 1.0
        return
    one = task.walkers == 1 and not task.timed
    total = steps or min(STEPS_PER_STOP * task.stops, MOST_STEPS)
    best: Orders = ((),)
    for order, done in orders(task.passable, steps=total, seed=seed):
        best = (order,)
        if one and task.fits(order):
            yield best, done / total
        if not wanted():
            break
    if one and task.fits(best[0]):
        return
    from layers.walking.round.shared import improved  # noqa: PLC0415  loads a large solver

    plan = _first(task, best[0])
    more = steps or SHARED_STEPS
    for found, done in improved(task, plan, steps=more, seed=seed, wanted=wanted):
        plan = found
        yield plan, done / more
    yield _straightened(task, plan, seed), 1.0


def _first(task: Task, order: Sequence[int]) -> Orders:
    """A plan to begin with: a good tour cut into walks, or as much as fits the limits."""
    if task.timed:
        return ((),) * task.walkers
    cut = _shared_out(task, order)
    return cut if all(map(task.fits, cut)) else _filled(task)


def _filled(task: Task) -> Orders:
    """Walks filled one stop at a time with the most urgency for the minutes it adds."""
    walks = [[0, task.end] for _ in range(task.walkers)]
    used = [float(task.minutes[0, task.end])] * task.walkers
    left = list(range(1, task.end))
    while left:
        best = (0.0, 0, 0, 0, 0.0)
        for number, walk in enumerate(walks):
            a, b = np.array(walk[:-1]), np.array(walk[1:])
            to, on = task.minutes[a][:, left], task.minutes[:, b][left].T
            more = to + on - task.minutes[a, b][:, None]
            at = more.argmin(axis=0)
            added = more[at, np.arange(len(left))] + task.service[left]
            ratio = task.urgency[left] / np.maximum(added, SLACK)
            ratio[used[number] + added > task.budget] = 0.0
            pick = int(ratio.argmax())
            best = max(best, (float(ratio[pick]), -number, int(at[pick]), pick, float(added[pick])))
        ratio_found, number, place, pick, minutes = best
        if ratio_found == 0.0:
            break
        walks[-number].insert(place + 1, left.pop(pick))
        used[-number] += minutes
    return tuple(tuple(walk[1:-1]) for walk in walks)


def _shared_out(task: Task, order: Sequence[int]) -> Orders:
    """A tour cut into walks so that the longest of them is shortest."""
    n = len(order)
    at = np.array(order)
    hops = task.passable[at[:-1], at[1:]] + task.service[at[1:]]
    along = np.r_[0.0, np.cumsum(hops)]
    out = task.passable[0, at] + task.service[at]
    home = task.passable[at, task.end]
    # walk[i, j]: stops i to j - 1 of the tour as one walk.
    walk = np.full((n + 1, n + 1), np.inf)
    walk[np.arange(n + 1), np.arange(n + 1)] = 0.0
    first, last = np.triu_indices(n)
    walk[first, last + 1] = out[first] + along[last] - along[first] + home[last]
    longest, cuts = walk[0], []
    for _ in range(task.walkers - 1):
        both = np.maximum(longest[:, None], walk)
        cuts.append(both.argmin(axis=0))
        longest = both.min(axis=0)
    ends = [n]
    for cut in cuts[::-1]:
        ends.append(int(cut[ends[-1]]))
    bounds = [0, *ends[::-1]]
    return tuple(tuple(order[a:b]) for a, b in pairwise(bounds))


def _straightened(task: Task, plan: Orders, seed: int) -> Orders:
    """The same stops for each walker in a better order, where one is found."""
    if task.timed:
        return plan
    walks = []
    for walk in plan:
        tried = walk
        if len(walk) > MOST_STOPS:
            places = [0, *walk, task.end]
            inner = task.passable[np.ix_(places, places)]
            for order, _ in orders(inner, steps=STEPS_PER_STOP * len(walk) // 4, seed=seed):
                tried = tuple(places[stop] for stop in order)
        walks.append(min(walk, tried, key=task.finish))
    return tuple(walks)
