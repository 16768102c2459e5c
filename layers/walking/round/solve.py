"""Which solver does what."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from layers.walking.round.arrays import SLACK, Orders, ProblemArrays
from layers.walking.round.exact import MAX_STOPS, best_orders
from layers.walking.round.single import orders

Floats = NDArray[np.float64]

STEPS_PER_STOP = 600
"""Steps of the search for one walker: found by trial to reach the proven shortest tour of
published instances up to 100 stops."""

MAX_STEPS = 300_000

SHARED_STEPS = 2_000
"""Steps of the search with a budget, hours or several walkers. Chosen by trial."""


SEED = 0
"""Of the searches' own random numbers: any will do, and one gives one plan."""


def solutions(arrays: ProblemArrays, *, go_on: Callable[[], bool]) -> Iterator[Orders]:
    """Better and better plans; the search ends early where `go_on` says no."""
    if arrays.stops <= MAX_STOPS:
        yield best_orders(arrays)
        return
    one = arrays.walkers == 1 and not arrays.timed
    steps = min(STEPS_PER_STOP * arrays.stops, MAX_STEPS)
    best: Orders = ((),)
    for order in orders(arrays.walkable, steps=steps, seed=SEED):
        best = (order,)
        if one and arrays.fits(order):
            yield best
        if not go_on():
            break
    if one and arrays.fits(best[0]):
        return
    from layers.walking.round.shared import improved  # noqa: PLC0415  loads a large solver

    first = _first(arrays, best[0])
    for plan in improved(arrays, first, steps=SHARED_STEPS, seed=SEED, go_on=go_on):
        best = plan
        yield best
    yield _straightened(arrays, best)


def _first(arrays: ProblemArrays, order: Sequence[int]) -> Orders:
    """A plan to begin with: a good tour cut into walks, or as much as fits the limits."""
    if arrays.timed:
        return ((),) * arrays.walkers
    cut = _shared_out(arrays, order)
    return cut if all(map(arrays.fits, cut)) else _filled(arrays)


def _filled(arrays: ProblemArrays) -> Orders:
    """Walks filled one stop at a time with the most urgency for the minutes it adds."""
    walks = [[0, arrays.end] for _ in range(arrays.walkers)]
    used = [float(arrays.minutes[0, arrays.end])] * arrays.walkers
    left = list(range(1, arrays.end))
    while left:
        best = (0.0, 0, 0, 0, 0.0)
        for number, walk in enumerate(walks):
            a, b = np.array(walk[:-1]), np.array(walk[1:])
            to, on = arrays.minutes[a][:, left], arrays.minutes[:, b][left].T
            more = to + on - arrays.minutes[a, b][:, None]
            at = more.argmin(axis=0)
            added = more[at, np.arange(len(left))] + arrays.service[left]
            ratio = arrays.urgency[left] / np.maximum(added, SLACK)
            ratio[used[number] + added > arrays.budget] = 0.0
            pick = int(ratio.argmax())
            best = max(best, (float(ratio[pick]), -number, int(at[pick]), pick, float(added[pick])))
        ratio_found, number, place, pick, minutes = best
        if ratio_found == 0.0:
            break
        walks[-number].insert(place + 1, left.pop(pick))
        used[-number] += minutes
    return tuple(tuple(walk[1:-1]) for walk in walks)


def _shared_out(arrays: ProblemArrays, order: Sequence[int]) -> Orders:
    """A tour cut into walks so that the longest of them is shortest."""
    n = len(order)
    at = np.array(order)
    hops = arrays.walkable[at[:-1], at[1:]] + arrays.service[at[1:]]
    along = np.r_[0.0, np.cumsum(hops)]
    out = arrays.walkable[0, at] + arrays.service[at]
    home = arrays.walkable[at, arrays.end]
    # walk[i, j]: stops i to j - 1 of the tour as one walk.
    walk = np.full((n + 1, n + 1), np.inf)
    walk[np.arange(n + 1), np.arange(n + 1)] = 0.0
    first, last = np.triu_indices(n)
    walk[first, last + 1] = out[first] + along[last] - along[first] + home[last]
    longest, cuts = walk[0], []
    for _ in range(arrays.walkers - 1):
        both = np.maximum(longest[:, None], walk)
        cuts.append(both.argmin(axis=0))
        longest = both.min(axis=0)
    ends = [n]
    for cut in cuts[::-1]:
        ends.append(int(cut[ends[-1]]))
    bounds = [0, *ends[::-1]]
    return tuple(tuple(order[a:b]) for a, b in pairwise(bounds))


def _straightened(arrays: ProblemArrays, plan: Orders) -> Orders:
    """The same stops for each walker in a better order, where one is found."""
    if arrays.timed:
        return plan
    walks = []
    for walk in plan:
        tried = walk
        if len(walk) > MAX_STOPS:
            places = [0, *walk, arrays.end]
            inner = arrays.walkable[np.ix_(places, places)]
            for order in orders(inner, steps=STEPS_PER_STOP * len(walk) // 4, seed=SEED):
                tried = tuple(places[stop] for stop in order)
        walks.append(min(walk, tried, key=arrays.finish))
    return tuple(walks)
