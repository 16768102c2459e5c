"""The best round of a few stops, by trying every set of them (Held and Karp 1962).

Held, M. and Karp, R. M. 1962. A dynamic programming approach to sequencing problems.
Journal of the Society for Industrial and Applied Mathematics 10:196-210. Waiting for a
stop's hours keeps it exact, since to arrive sooner is never worse.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from layers.walking.round.arrays import SLACK, Orders, ProblemArrays, Shifts

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MAX_STOPS = 12
"""More stops than this would take too long: the work grows with 2 to this power."""


def best_orders(arrays: ProblemArrays) -> Orders:
    """The best plan: most urgency within the limits, then the longest walk shortest, then total.

    For each walker the stops in order, the walker with most to do first.
    """
    back, arrival = _walks(arrays)
    share, sets = _shares(arrays, back)
    walks = [_order(arrays, arrival, chosen) for chosen in sets[share]]
    return tuple(sorted(walks, key=lambda walk: (-len(walk), walk)))


def best_of_shifts(arrays: ProblemArrays, shifts: Shifts) -> Orders:
    """The plan of most urgency where walks differ, then the quickest; for each walk its stops."""
    back, arrival = _walks(arrays)
    sets = np.arange(len(back))
    total, parts = np.where(sets == 0, 0.0, np.inf), []
    for minutes, allowed in zip(shifts.minutes, shifts.allowed, strict=True):
        barred = sum(1 << stop for stop in np.flatnonzero(~allowed[1:-1]).tolist())
        able = (back <= minutes + SLACK) & (sets & barred == 0)
        total, part = _split(total, np.where(able, back, np.inf), total=True)
        parts.append(part)
    worth = np.where(np.isfinite(total), np.round(_worth(arrays), 6), -1.0)
    wanted = np.flatnonzero(worth == worth.max())
    left = int(wanted[total[wanted].argmin()])
    walks = []
    for part in parts[::-1]:
        walks.append(_order(arrays, arrival, int(part[left])))
        left ^= int(part[left])
    return tuple(walks[::-1])


def _worth(arrays: ProblemArrays) -> Floats:
    """Urgency of each set of stops."""
    worth = np.zeros(1 << arrays.stops)
    for stop in range(arrays.stops):
        worth[1 << stop : 2 << stop] = worth[: 1 << stop] + arrays.urgency[stop + 1]
    return worth


def _walks(arrays: ProblemArrays) -> tuple[Floats, Floats]:
    """For each set of stops the earliest time back; and the earliest time done at its last stop.

    Set s holds stop i + 1 where bit i of s is 1.
    """
    n = arrays.stops
    sets = np.arange(1 << n)
    size = np.array([int(s).bit_count() for s in sets])
    arrival = np.full((1 << n, n), np.inf)
    between = arrays.minutes[1 : n + 1, 1 : n + 1]
    for count in range(1, n + 1):
        for last in range(n):
            chosen = sets[(size == count) & (sets >> last & 1 == 1)]
            if count == 1:
                reached = np.array([arrays.minutes[0, last + 1]])
            else:
                reached = (arrival[chosen ^ (1 << last)] + between[:, last]).min(axis=1)
            reached = np.maximum(reached, arrays.opens[last + 1])
            reached[reached > arrays.closes[last + 1] + SLACK] = np.inf
            arrival[chosen, last] = reached + arrays.service[last + 1]
    back = (arrival + arrays.minutes[1 : n + 1, arrays.end]).min(axis=1, initial=np.inf)
    back[0] = 0.0
    return back, arrival


def _order(arrays: ProblemArrays, arrival: Floats, chosen: int) -> tuple[int, ...]:
    """The stops of a set in the order that is back first."""
    order: list[int] = []
    onward = arrays.minutes[1 : arrays.stops + 1, arrays.end]
    while chosen:
        last = int((arrival[chosen] + onward).argmin())
        order.append(last + 1)
        chosen ^= 1 << last
        onward = arrays.minutes[1 : arrays.stops + 1, last + 1]
    return tuple(order[::-1])


def _shares(arrays: ProblemArrays, back: Floats) -> tuple[int, dict[int, list[int]]]:
    """The best set of stops to make, and how each set is shared among the walkers."""
    worth = _worth(arrays)
    alone = np.where(back <= arrays.budget + SLACK, back, np.inf)
    longest = alone
    for _ in range(arrays.walkers - 1):
        longest = _split(longest, alone, total=False)[0]
    best = np.round(worth, 6)[np.isfinite(longest)].max()
    wanted = np.flatnonzero(np.isfinite(longest) & (np.round(worth, 6) == best))
    limit = longest[wanted].min()
    allowed = np.where(alone <= limit + SLACK, alone, np.inf)
    total, parts = allowed, []
    for _ in range(arrays.walkers - 1):
        total, part = _split(total, allowed, total=True)
        parts.append(part)
    chosen = int(wanted[total[wanted].argmin()])
    shares, left = [], chosen
    for part in parts[::-1]:
        shares.append(int(part[left]))
        left ^= int(part[left])
    return chosen, {chosen: [*shares, left]}


def _split(rest: Floats, alone: Floats, *, total: bool) -> tuple[Floats, Ints]:
    """For each set the best share of one more walker: what it comes to, and the share."""
    value, share = np.empty(len(alone)), np.empty(len(alone), np.int64)
    for chosen in range(len(alone)):
        parts = np.zeros(1, np.int64)
        left = chosen
        while left:
            bit = left & -left
            parts = np.concatenate([parts, parts | bit])
            left ^= bit
        others = rest[chosen ^ parts]
        cost = alone[parts] + others if total else np.maximum(alone[parts], others)
        best = int(cost.argmin())
        value[chosen], share[chosen] = cost[best], parts[best]
    return value, share
