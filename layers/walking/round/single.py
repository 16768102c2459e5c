"""The quickest order of all stops for one walker, whatever their number."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from layers.walking.round.directed import settle
from layers.walking.round.tour import tours

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

UNITS = 60_000
"""Whole units in a minute for the solver that counts in whole numbers: milliseconds."""

SHAKES = 400
"""Shakes where there and back differ. Chosen by trial against exact orders."""

SHAKEN_STOPS = 250
"""Beyond this many stops a shake costs too much, and the path is only settled."""


def whole(minutes: Floats) -> Ints:
    """Symmetric whole-number distances whose tours are rounds.

    Place 0 is the start and the last is the end, which a negative distance ties to the
    start. Elsewhere it is the mean of there and back.
    """
    there = minutes.copy()
    end = len(there) - 1
    there[end, :] = minutes[:, end]
    there[:, 0] = minutes[0, :]
    cost = np.rint((there + there.T) / 2.0 * UNITS).astype(np.int64)
    np.fill_diagonal(cost, 0)
    cost[0, end] = cost[end, 0] = -(int(cost.max()) + 1) * 4
    return cost


def even(minutes: Floats) -> bool:
    """Whether there and back take the same time between all stops, start and end."""
    inner = minutes[:-1, :-1]
    closed = np.allclose(minutes[0, 1:-1], minutes[1:-1, -1], atol=1e-9)
    stops = inner[1:, 1:]
    apart = np.allclose(inner[0, 1:], inner[1:, 0], atol=1e-9)
    return bool(np.allclose(stops, stops.T, atol=1e-9) and (closed or apart))


def orders(minutes: Floats, *, steps: int, seed: int) -> Iterator[tuple[tuple[int, ...], int]]:
    """Better and better orders of the stops, with the steps done so far.

    Parameters
    ----------
    minutes
        As in `Task`: from row to column, start first and end last, at least 6 stops.
    """
    uneven = not even(minutes)
    seen, order = b"", tuple[int, ...]()
    for tour, done in tours(whole(minutes), steps=steps, seed=seed):
        if tour.tobytes() == seen:
            yield order, done
            continue
        seen = tour.tobytes()
        path = _opened(tour)
        state = np.array([seed * 2 + 88_172_645_463_325_253], np.int64)
        shakes = SHAKES if uneven and len(path) <= SHAKEN_STOPS else 0
        ways = []
        for way in (path, np.r_[path[0], path[-2:0:-1], path[-1]]):
            tried = way.copy()
            ways.append((round(settle(minutes, tried, state, shakes), 7), tuple(tried.tolist())))
        order = min(ways)[1][1:-1]
        yield order, done


def _opened(tour: Ints) -> Ints:
    """The path from the start, which the tour begins with, to the end beside it."""
    end = len(tour) - 1
    if tour[-1] == end:
        return tour
    return np.concatenate([tour[:1], tour[:0:-1]])
