"""The terms of every course that a nest's visits allow. Compiled."""

from __future__ import annotations

from typing import Any

import numpy as np

from layers.nesting.compiled import compiled
from layers.nesting.dating import terms as t
from layers.nesting.dating.weighing import weigh

FLEDGED, LOST_YOUNG, LOST_EGGS, N_ENDS = range(4)
"""How a nest ends; LOST_EGGS also stands for days lived through whose end is not looked at."""

# Days of hatching less likely than this share of all are left out.
_LEAST_CHANCE = 1e-6


@compiled
def fill_courses(visits: Any, bounds: Any, frames: Any, tables: Any, days: Any) -> Any:
    """The terms of each attempt: nest, end, days with eggs and with young, age, and weight.

    The age is that at which the young leave in the term; -1 - age where it is that or any later
    one, -1 for all. `bounds` are the first and the last + 1 of its visits, `days` those of
    entering, of the last look that found it alive, and of the one that found it over.
    """
    room = 1024
    numbers = np.zeros((5, room), np.int64)
    weights = np.zeros(room)
    size = 0
    for a in range(len(frames)):
        begins, alive, over = days[a, 0], days[a, 1], days[a, 2]
        nestling = tables.nestling[frames[a, t.F_SPECIES]]
        origin, post, sums = weigh(
            visits[bounds[a, 0] : bounds[a, 1]], frames[a], tables, (0, np.zeros(0))
        )
        total = sums[t.HATCHED]
        if total <= 0.0:
            continue
        for h in range(post.shape[1]):
            chance = post[t.HATCH, h] / total
            if chance < _LEAST_CHANCE:
                continue
            hatch = origin + h
            if size + 3 * len(nestling) + 8 > room:
                numbers = np.concatenate((numbers, np.zeros((5, room), np.int64)), axis=1)
                weights = np.concatenate((weights, np.zeros(room)))
                room *= 2
            # The chance of hatching has that of staying up to `alive` in it.
            stays, least = 0.0, max(alive + 1 - hatch, 0)
            for n in range(least, len(nestling)):
                stays += nestling[n]
            # Lost as eggs, up to hatching or to the look that found it over.
            until = min(max(hatch, alive), over)
            if until > alive:
                for end in (alive, until):
                    numbers[0, size], numbers[1, size] = a, LOST_EGGS
                    numbers[2, size], numbers[3, size] = end - begins, 0
                    numbers[4, size] = -1 - least
                    weights[size] = chance if end == alive else -chance
                    size += 1
            if over <= hatch:
                continue
            # Lost as young from then on, unless they had left; or left.
            eggs = max(hatch - begins, 0)
            numbers[0, size], numbers[1, size] = a, LOST_YOUNG
            numbers[2, size], numbers[3, size] = eggs, until - begins - eggs
            numbers[4, size] = -1 - least
            weights[size] = chance
            size += 1
            for n in range(least, len(nestling)):
                if nestling[n] == 0.0:
                    continue
                leaves = hatch + n
                each = chance * nestling[n] / stays
                if leaves <= over:
                    numbers[0, size], numbers[1, size] = a, FLEDGED
                    numbers[2, size], numbers[3, size] = eggs, leaves - begins - eggs
                    numbers[4, size] = n
                    weights[size] = each
                    size += 1
                numbers[0, size], numbers[1, size] = a, LOST_YOUNG
                end = min(leaves, over)
                numbers[2, size], numbers[3, size] = eggs, end - begins - eggs
                numbers[4, size] = n
                weights[size] = -each
                size += 1
    return (
        numbers[0, :size].copy(),
        numbers[1, :size].copy(),
        numbers[2, :size].copy(),
        numbers[3, :size].copy(),
        numbers[4, :size].copy(),
        weights[:size].copy(),
    )
