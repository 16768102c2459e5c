"""The quickest order of all stops for one walker, whatever their number.

A tour over the mean of there and back, then improved as a path where the two differ.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from layers.walking.compiled import compiled
from layers.walking.round.tour import _chance, _draw, tours

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

UNITS = 60_000
"""Whole units in a minute for the solver that counts in whole numbers: milliseconds."""

SHAKES = 1_000
"""Shakes where there and back differ. Chosen by trial against exact orders."""

SHAKEN_STOPS = 250
"""Beyond this many stops a shake costs too much, and the path is only settled."""

LEAST_GAIN = 1e-7
"""Minutes below which a change is no gain but rounding."""

HEAT = 0.3
"""How much longer a path may become at first, in mean hops, cooling down: without it ftv33 of
the tests stays 1.2 % above its shortest round, with it in 9 of 9 trials none of three did."""

LONGEST_SWAP = 20
"""Most stops in each of two stretches that a shake swaps."""


@compiled
def _sums(minutes: Floats, path: Ints, ahead: Floats, back: Floats) -> None:
    """Minutes from the first place to each, walked forwards and backwards."""
    for i in range(1, len(path)):
        ahead[i] = ahead[i - 1] + minutes[path[i - 1], path[i]]
        back[i] = back[i - 1] + minutes[path[i], path[i - 1]]


@compiled
def _turn(path: Ints, first: int, last: int) -> None:
    while first < last:
        path[first], path[last] = path[last], path[first]
        first += 1
        last -= 1


@compiled
def _better_turn(minutes: Floats, path: Ints, ahead: Floats, back: Floats) -> bool:
    """Turn round the first stretch that gains by it."""
    size = len(path)
    for i in range(1, size - 2):
        for j in range(i + 1, size - 1):
            now = (
                minutes[path[i - 1], path[i]] + ahead[j] - ahead[i] + minutes[path[j], path[j + 1]]
            )
            new = minutes[path[i - 1], path[j]] + back[j] - back[i] + minutes[path[i], path[j + 1]]
            if now - new > LEAST_GAIN:
                _turn(path, i, j)
                return True
    return False


@compiled
def _better_place(minutes: Floats, path: Ints, ahead: Floats, back: Floats) -> bool:
    """Move the first stretch of up to three stops that gains by it."""
    size = len(path)
    for length in range(1, 4):
        for i in range(1, size - length):
            j = i + length - 1
            freed = minutes[path[i - 1], path[i]] + minutes[path[j], path[j + 1]]
            freed -= minutes[path[i - 1], path[j + 1]]
            if freed <= LEAST_GAIN:
                continue
            turned = (back[j] - back[i]) - (ahead[j] - ahead[i])
            for k in range(size - 1):
                if i - 1 <= k <= j:
                    continue
                a, b = path[k], path[k + 1]
                straight = minutes[a, path[i]] + minutes[path[j], b] - minutes[a, b]
                other = minutes[a, path[j]] + minutes[path[i], b] - minutes[a, b] + turned
                if freed - min(straight, other) > LEAST_GAIN:
                    if other < straight:
                        _turn(path, i, j)
                    # A move is two stretches changing places, which is three turns.
                    if k < i:
                        _turn(path, k + 1, i - 1)
                        _turn(path, i, j)
                        _turn(path, k + 1, j)
                    else:
                        _turn(path, i, j)
                        _turn(path, j + 1, k)
                        _turn(path, i, k)
                    return True
    return False


@compiled
def _settle(minutes: Floats, path: Ints, ahead: Floats, back: Floats) -> float:
    _sums(minutes, path, ahead, back)
    while _better_place(minutes, path, ahead, back) or _better_turn(minutes, path, ahead, back):
        _sums(minutes, path, ahead, back)
    return float(ahead[-1])


@compiled
def settle(minutes: Floats, path: Ints, state: Ints, steps: int) -> float:
    """Shorten a path whose first and last place stay, in place; the minutes it then takes.

    `state` is a random state, and `steps` how many times the path is shaken. A longer path is
    gone on from with a chance of `exp(-loss / heat)`.
    """
    ahead, back = np.zeros(len(path)), np.zeros(len(path))
    now = best = _settle(minutes, path, ahead, back)
    inner = len(path) - 2
    kept, shortest = path.copy(), path.copy()
    heat = HEAT * best / (inner + 1)
    for step in range(steps if inner >= 4 else 0):
        longest = min(LONGEST_SWAP, inner // 2)
        one, two = 1 + _draw(state, longest), 1 + _draw(state, longest)
        first = 1 + _draw(state, inner - one - two + 1)
        _turn(path, first, first + one - 1)
        _turn(path, first + one, first + one + two - 1)
        _turn(path, first, first + one + two - 1)
        found = _settle(minutes, path, ahead, back)
        tolerated = heat * (1.0 - step / steps) * np.log(_chance(state))
        if found < now - tolerated - LEAST_GAIN:
            now = found
            kept[:] = path
            if now < best - LEAST_GAIN:
                best = now
                shortest[:] = path
        else:
            path[:] = kept
    path[:] = shortest
    return float(best)


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


def orders(minutes: Floats, *, steps: int, seed: int) -> Iterator[tuple[int, ...]]:
    """Better and better orders of the stops.

    Parameters
    ----------
    minutes
        As in `ProblemArrays`: from row to column, start first and end last, at least 6 stops.
    """
    uneven = not even(minutes)
    seen, order = b"", tuple[int, ...]()
    for tour in tours(whole(minutes), steps=steps, seed=seed):
        if tour.tobytes() != seen:
            seen = tour.tobytes()
            path = _opened(tour)
            state = np.array([seed * 2 + 88_172_645_463_325_253], np.int64)
            shakes = SHAKES if uneven and len(path) <= SHAKEN_STOPS else 0
            ways = []
            for way in (path, np.r_[path[0], path[-2:0:-1], path[-1]]):
                tried = way.copy()
                length = round(settle(minutes, tried, state, shakes), 7)
                ways.append((length, tuple(tried.tolist())))
            order = min(ways)[1][1:-1]
        yield order


def _opened(tour: Ints) -> Ints:
    """The path from the start, which the tour begins with, to the end beside it."""
    end = len(tour) - 1
    if tour[-1] == end:
        return tour
    return np.concatenate([tour[:1], tour[:0:-1]])
