"""A way through all stops where there and back take different times."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from layers.walking.compiled import compiled
from layers.walking.round.tour import _draw

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LEAST_GAIN = 1e-7
"""Minutes below which a change is no gain but rounding."""

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

    `state` is a random state, and `steps` how many times the path is shaken.
    """
    ahead, back = np.zeros(len(path)), np.zeros(len(path))
    best = _settle(minutes, path, ahead, back)
    inner = len(path) - 2
    kept = path.copy()
    for _ in range(steps if inner >= 4 else 0):
        longest = min(LONGEST_SWAP, inner // 2)
        one, two = 1 + _draw(state, longest), 1 + _draw(state, longest)
        first = 1 + _draw(state, inner - one - two + 1)
        _turn(path, first, first + one - 1)
        _turn(path, first + one, first + one + two - 1)
        _turn(path, first, first + one + two - 1)
        found = _settle(minutes, path, ahead, back)
        if found < best - LEAST_GAIN:
            best = found
            kept[:] = path
        else:
            path[:] = kept
    return float(best)
