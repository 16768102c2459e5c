"""What several walkers can visit at most: whole walks as the columns of a linear programme.

Each walker takes a part of some walks, and no stop is visited more than once; the duals of
that programme price the stops, and the best walk at those prices is found by dynamic
programming over ng-routes (Baldacci, Mingozzi and Roberti 2011, Operations Research
59:1269-1283), which come back to a stop only after they have been away from its neighbours.
The prices, and for each walker that walk, are a bound in every round, so it may be broken off.
On 20 instances of 30 to 80 stops it is nearer to the best plan than sets of stops, see
`limits`, for two walkers and more, and farther for one.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog
from scipy.sparse import csc_array

from layers.walking.compiled import compiled
from layers.walking.round.arrays import SLACK, Orders, ProblemArrays

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

NEIGHBOURS = 5
"""Stops that a walk remembers having been at, besides the one it is at."""

PARTS = 800
"""Parts into which the time of a walk is divided: of walks to one stop in one part, with one
memory, the best is taken to have come as soon as the soonest."""

MAX_ROUNDS = 120
"""Times the walks are priced anew before the bound is taken as it is."""

SMOOTHED = 0.5
"""Share of the prices that gave the best bound so far in those tried next (Wentges 1997,
International Transactions in Operational Research 4:151-162)."""

TOLERANCE = 1e-6


def most_urgency(arrays: ProblemArrays, plan: Orders, go_on: Callable[[], bool]) -> float:
    """More urgency than any plan can see within the budget; `plan` is a good one."""
    size, urgency = arrays.stops, arrays.urgency[1:-1]
    pricing = _Pricing(arrays)
    whole = bool(np.equal(urgency % 1.0, 0.0).all())
    alone = ((stop,) for stop in range(1, size + 1) if arrays.fits((stop,)))
    walks = [*alone, *(walk for walk in plan if walk)]
    if not walks:
        return 0.0
    columns = {walk: np.bincount(walk, minlength=size + 2)[1:-1] for walk in walks}
    best = float(urgency.sum())
    centre = urgency.copy()
    smoothed = SMOOTHED
    for _ in range(MAX_ROUNDS):
        if not go_on():
            break
        value, prices = _master(arrays, np.array(list(columns.values())))
        done = math.floor(value + TOLERANCE) if whole else value + TOLERANCE
        if best < done + (1.0 if whole else TOLERANCE):
            break
        tried = smoothed * centre + (1.0 - smoothed) * prices
        gain, found = pricing.walks(urgency - tried)
        bound = float(tried.sum()) + arrays.walkers * max(gain, 0.0)
        if bound < best:
            best, centre = bound, tried
        before = len(columns)
        for walk in found:
            columns.setdefault(walk, np.bincount(walk, minlength=size + 2)[1:-1])
        if len(columns) == before:
            if smoothed == 0.0:
                break
            smoothed = 0.0
        else:
            smoothed = SMOOTHED
    return float(math.floor(best + TOLERANCE)) if whole else best


def _master(arrays: ProblemArrays, visits: Ints) -> tuple[float, Floats]:
    """The most urgency that parts of some walks see, and what each stop is worth in it."""
    solve: Any = linprog  # its types know no sparse rows
    solved = solve(
        -(visits @ arrays.urgency[1:-1]),
        A_ub=csc_array(np.r_[visits.T, np.ones((1, len(visits)), np.int64)]),
        b_ub=np.r_[np.ones(arrays.stops), float(arrays.walkers)],
        method="highs",
    )
    return -float(solved.fun), np.maximum(-solved.ineqlin.marginals[:-1], 0.0)


class _Pricing:
    """The best walks at given prices."""

    def __init__(self, arrays: ProblemArrays) -> None:
        size = arrays.stops
        self._budget = arrays.budget + SLACK
        self._legs = arrays.walkable + arrays.service[:, None]
        between = arrays.walkable[1:-1, 1:-1] + arrays.walkable[1:-1, 1:-1].T
        np.fill_diagonal(between, np.inf)
        count = min(NEIGHBOURS, size - 1)
        near = np.argsort(between, axis=1, kind="stable")[:, :count].astype(np.int64)
        self._carried = _carried(near)

    def walks(self, worth: Floats) -> tuple[float, list[tuple[int, ...]]]:
        """The most that a walk is worth, and for each stop the best walk that ends there."""
        values, walks, sizes = _priced(self._legs, self._carried, worth, self._budget)
        found = [
            tuple((1 + walk[:count]).tolist()[::-1])
            for value, walk, count in zip(values, walks, sizes, strict=True)
            if value > TOLERANCE
        ]
        return float(values.max()), found


@compiled
def _carried(near: Ints) -> Ints:
    """What a walk that goes from stop to stop remembers then; -1 where it may not go there.

    Bit k of a memory at a stop: it has been at the neighbour of rank k.
    """
    size, count = near.shape
    carried = np.full((size, size, 1 << count), -1, np.int64)
    for i in range(size):
        for j in range(size):
            if i == j:
                continue
            for memory in range(1 << count):
                kept, barred = 0, False
                for k in range(count):
                    if near[j, k] == i:
                        kept |= 1 << k
                    if memory >> k & 1:
                        if near[i, k] == j:
                            barred = True
                        for other in range(count):
                            if near[j, other] == near[i, k]:
                                kept |= 1 << other
                if not barred:
                    carried[i, j, memory] = kept
    return carried


@compiled
def _priced(legs: Floats, carried: Ints, worth: Floats, budget: float) -> tuple[Floats, Ints, Ints]:
    """For each stop the most that a walk that ends there is worth, and that walk, reversed."""
    size, memories = carried.shape[0], carried.shape[2]
    end, part = size + 1, budget / PARTS
    # A leg leads to a later part, however short it is.
    parts = PARTS + size + 1
    value = np.full((parts, size, memories), -np.inf)
    time = np.full((parts, size, memories), np.inf)
    came = np.full((parts, size, memories), -1, np.int32)
    # The most that is reached by then with no more remembered: less is not gone on from.
    reached = np.full((size, memories), -np.inf)
    best, last = np.full(size, -np.inf), np.full(size, -1, np.int64)
    for j in range(size):
        minutes = legs[0, j + 1]
        if minutes + legs[j + 1, end] <= budget:
            value[int(minutes / part), j, 0], time[int(minutes / part), j, 0] = worth[j], minutes
    for now in range(parts):
        for i in range(size):
            for memory in range(memories):
                here = value[now, i, memory]
                if here <= reached[i, memory]:
                    continue
                state = (now * size + i) * memories + memory
                for other in range(memory, memories):
                    if other & memory == memory:
                        reached[i, other] = max(reached[i, other], here)
                if here > best[i]:
                    best[i], last[i] = here, state
                for j in range(size):
                    minutes = time[now, i, memory] + legs[i + 1, j + 1]
                    if minutes + legs[j + 1, end] > budget:
                        continue
                    kept = carried[i, j, memory]
                    then = max(int(minutes / part), now + 1)
                    if kept < 0 or then >= parts:
                        continue
                    time[then, j, kept] = min(time[then, j, kept], minutes)
                    if here + worth[j] > value[then, j, kept]:
                        value[then, j, kept] = here + worth[j]
                        came[then, j, kept] = state
    walks, sizes = np.zeros((size, parts), np.int64), np.zeros(size, np.int64)
    for j in range(size):
        state = last[j]
        while state >= 0 and sizes[j] < parts:
            walks[j, sizes[j]] = state // memories % size
            sizes[j] += 1
            state = came.ravel()[state]
    return best, walks, sizes
