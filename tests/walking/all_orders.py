"""Every order of every set of stops, walked through one after the other: no clever shortcut."""

from __future__ import annotations

from typing import Any

import numba
import numpy as np

from layers.walking.round.arrays import SLACK, Floats, ProblemArrays

_FOUND: dict[bytes, Floats] = {}


def quickest_of_all(arrays: ProblemArrays) -> Floats:
    """For each set of stops (stop i + 1 is in it where bit i is 1) the earliest time back.

    Twelve stops have 1.3 thousand million beginnings of orders; each is gone through once.
    """
    given = (arrays.minutes, arrays.service, arrays.opens, arrays.closes + SLACK)
    key = b"".join(values.tobytes() for values in given)
    if key not in _FOUND:
        _FOUND[key] = np.full(1 << arrays.stops, np.inf)
        _FOUND[key][0] = 0.0
        _go_on(0, 0, 0.0, given, _FOUND[key])
    return _FOUND[key]


@numba.njit
def _go_on(done: int, here: int, now: float, given: Any, quickest: Any) -> None:
    minutes, service, opens, closes = given
    end = len(minutes) - 1
    for stop in range(1, end):
        bit = 1 << (stop - 1)
        begins = max(now + minutes[here, stop], opens[stop])
        if done & bit or begins > closes[stop]:
            continue
        leaves = begins + service[stop]
        quickest[done | bit] = min(quickest[done | bit], leaves + minutes[stop, end])
        _go_on(done | bit, stop, leaves, given, quickest)


def best_of_all(arrays: ProblemArrays, quickest: Floats) -> tuple[float, float, float]:
    """Merit of the best way to share the stops out, among all ways."""
    worth = np.array(
        [
            arrays.worth(i + 1 for i in range(arrays.stops) if chosen >> i & 1)
            for chosen in range(len(quickest))
        ]
    )
    missed, longest, total = _share(
        np.where(quickest <= arrays.budget + SLACK, quickest, np.inf),
        worth,
        arrays.stops,
        arrays.walkers,
    )
    return float(missed), float(longest), float(total)


@numba.njit
def _share(quickest: Any, worth: Any, stops: int, walkers: int) -> Any:
    best = (np.inf, np.inf, np.inf)
    sets = np.zeros(walkers + 1, np.int64)
    for share in range((walkers + 1) ** stops):
        sets[:] = 0
        left = share
        for stop in range(stops):
            sets[left % (walkers + 1)] |= 1 << stop
            left //= walkers + 1
        longest, total, done = 0.0, 0.0, 0.0
        for walker in range(walkers):
            longest = max(longest, quickest[sets[walker]])
            total += quickest[sets[walker]]
            done += worth[sets[walker]]
        if longest < np.inf:
            this = (round(-done, 6), round(longest, 6), round(total, 6))
            if this < best:  # noqa: PLR1730 (Numba compares tuples, but takes no min of them)
                best = this
    return best
