"""Among equally quick orders of a walk the one that a walker would choose.

Many orders of one walk are equally quick: the other way round, a box beside a path that is
walked twice at either pass, spurs of one junction in any order. Of these a walker takes the
one that visits a box when first passing it, sees the urgent boxes early, finishes a section
before the next and follows the numbers of the boxes.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layers.walking.compiled import compiled
from layers.walking.round.arrays import ProblemArrays

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SAME_MINUTES = 2e-4
"""Orders this near to each other are equally quick: the two centimetres are rounding."""

SAME_HOP = SAME_MINUTES / 10.0
"""Minutes that one change of the order may cost."""

SECTION_WEIGHT = 0.1
"""Leaving a section before it is done weighs as much as reaching the urgent boxes a tenth of
the walk later (a choice of ours: the hand-drawn trails of the tests agree with it)."""

NUMBER_WEIGHT = 0.1
"""Boxes all in falling order of their numbers weigh as much (a choice of ours as well): one box
that became urgent turns a round only where it is then seen clearly sooner."""

STEADY_SHARE = 0.02
"""A round changed a little stays in its order where that takes no longer than by this share."""

MAX_STOPS = 150
"""Beyond this many stops there are too many stretches to try: a box is still visited when
first passed."""


@dataclass(frozen=True)
class Preference:
    """What decides among equally quick orders, for each place of the problem's arrays.

    Attributes
    ----------
    section
        Number of the section that each stop is in; -1 for none, and for start and end.
    rank
        Place of each stop in the numbering of the boxes.
    off_minutes
        Minutes from the path to each stop.
    """

    section: Ints
    rank: Ints
    off_minutes: Floats

    @classmethod
    def of(cls, boxes: Sequence[str], sections: Sequence[str], off_minutes: Floats) -> Preference:
        """From the first box of each stop and its section, empty where it is in none."""
        order = sorted(range(len(boxes)), key=lambda stop: _number(boxes[stop]))
        rank = np.zeros(len(boxes) + 2, np.int64)
        rank[np.array(order, np.int64) + 1] = np.arange(len(boxes))
        names = sorted(set(sections) - {""})
        inner = [names.index(section) if section else -1 for section in sections]
        return cls(np.array([-1, *inner, -1], np.int64), rank, off_minutes)


def _number(box: str) -> tuple[tuple[int, str], ...]:
    """A key that puts box 9 before box 10."""
    return tuple(
        (int(part), "") if part.isdigit() else (0, part.casefold())
        for part in re.split(r"(\d+)", box)
    )


def natural(arrays: ProblemArrays, order: Sequence[int], preference: Preference) -> tuple[int, ...]:
    """The order that a walker would choose among those as quick as the one given."""
    if len(order) < 2:
        return tuple(order)
    urgent = arrays.urgency - arrays.urgency[list(order)].min()
    minutes, off = arrays.walkable, preference.off_minutes
    taste = urgent, preference.section, preference.rank
    limit = arrays.finish(order) + SAME_MINUTES
    best, least = tuple(order), np.inf
    for way in (order, order[::-1]):
        if arrays.finish(way) > limit:
            continue
        path = np.array([0, *way, arrays.end], np.int64)
        _visit_at_first_pass(minutes, path, off)
        if len(order) <= MAX_STOPS:
            _improve(minutes, path, off, *taste)
        found, score = tuple(path[1:-1].tolist()), discord(minutes, path, *taste)
        if score < least - 1e-9 and arrays.finish(found) <= limit:
            best, least = found, score
    return best


def steady(
    arrays: ProblemArrays, order: Sequence[int], before: Sequence[int]
) -> tuple[int, ...] | None:
    """The stops of an order in that of an earlier round, what is new put in where it adds least.

    None where less than half of the stops were in the earlier round, or where its order takes
    longer by more than `STEADY_SHARE`.
    """
    again = [stop for stop in before if stop in set(order)]
    if 2 * len(again) < len(order):
        return None
    for stop in order:
        if stop not in again:
            path = np.array([0, *again, arrays.end])
            to, on = arrays.walkable[path[:-1], stop], arrays.walkable[stop, path[1:]]
            again.insert(int((to + on - arrays.walkable[path[:-1], path[1:]]).argmin()), stop)
    limit = min(arrays.finish(order) * (1.0 + STEADY_SHARE), arrays.budget)
    return tuple(again) if arrays.finish(again) <= limit + SAME_MINUTES else None


@compiled
def discord(minutes: Floats, path: Ints, urgent: Floats, section: Ints, rank: Ints) -> float:
    """How far a path from start to end is from what a walker would choose; 0 at best.

    Urgent boxes: their mean place along the walk, as a share of its minutes on foot. Sections:
    how often one is left before it is done. Numbers: the share of hops that go back, to begin
    with another than the lowest being one.
    """
    size = len(path)
    walked, weighed, weight = 0.0, 0.0, 0.0
    changes, falls, known = 0, 0, 0
    for i in range(1, size):
        walked += minutes[path[i - 1], path[i]]
        if i == size - 1:
            break
        weighed += urgent[path[i]] * walked
        weight += urgent[path[i]]
        if i == 1:
            falls += rank[path[1]] > rank[path[1:-1]].min()
        else:
            changes += section[path[i]] != section[path[i - 1]]
            falls += rank[path[i]] < rank[path[i - 1]]
        first = True
        for j in range(1, i):
            if section[path[j]] == section[path[i]]:
                first = False
        known += first
    early = weighed / (weight * walked) if weight > 0.0 and walked > 0.0 else 0.0
    apart = changes - (known - 1)
    return early + SECTION_WEIGHT * apart + NUMBER_WEIGHT * falls / (size - 2)


@compiled
def _earliest(minutes: Floats, path: Ints, off: Floats, at: int) -> int:
    """The first leg that passes by the stop at a position, where it costs no more to visit."""
    stop = path[at]
    freed = minutes[path[at - 1], stop] + minutes[stop, path[at + 1]]
    freed -= minutes[path[at - 1], path[at + 1]]
    # A leg that passes by is longer by the way off the path and back alone.
    most = min(freed, 2.0 * off[stop]) + SAME_HOP
    for j in range(1, at):
        a, b = path[j - 1], path[j]
        sooner = minutes[a, stop] - off[stop] < minutes[a, b] - off[b] - SAME_HOP
        if sooner and minutes[a, stop] + minutes[stop, b] - minutes[a, b] <= most:
            return j
    return at


@compiled
def _visit_at_first_pass(minutes: Floats, path: Ints, off: Floats) -> None:
    """Visit each stop when the walk first passes it, in place."""
    for _ in range(len(path)):
        moved = False
        for at in range(2, len(path) - 1):
            first = _earliest(minutes, path, off, at)
            stop = path[at]
            for k in range(at, first, -1):
                path[k] = path[k - 1]
            path[first] = stop
            moved |= first < at
        if not moved:
            return


@compiled
def _moved(path: Ints, new: Ints, i: int, j: int, k: int, turned: bool) -> None:  # noqa: PLR0917
    """Write into `new` the path with positions i to j after position k, perhaps turned round."""
    size, at = len(path), 0
    for p in range(size):
        if p < i or p > j:
            new[at] = path[p]
            at += 1
        if p == k:
            for s in range(j - i + 1):
                new[at] = path[j - s] if turned else path[i + s]
                at += 1


@compiled
def _improve(  # noqa: PLR0917
    minutes: Floats, path: Ints, off: Floats, urgent: Floats, section: Ints, rank: Ints
) -> None:
    """Move or turn stretches as long as that costs nothing and a walker would rather, in place.

    Every stop stays at the first pass of it.
    """
    size = len(path)
    best = discord(minutes, path, urgent, section, rank)
    new, ahead, back = np.empty(size, np.int64), np.zeros(size), np.zeros(size)
    better = True
    while better:
        better = False
        for p in range(1, size):
            ahead[p] = ahead[p - 1] + minutes[path[p - 1], path[p]]
            back[p] = back[p - 1] + minutes[path[p], path[p - 1]]
        for i in range(1, size - 1):
            for j in range(i, size - 1):
                before, after = path[i - 1], path[j + 1]
                forth, turn = ahead[j] - ahead[i], back[j] - back[i]
                freed = minutes[before, path[i]] + forth + minutes[path[j], after]
                freed -= minutes[before, after]
                for k in range(size - 1):
                    if i <= k <= j:
                        continue
                    a = path[k]
                    b = after if k == i - 1 else path[k + 1]
                    for way in range(2):
                        turned = way == 1
                        if k == i - 1 and not turned:
                            continue
                        first, last = (path[j], path[i]) if turned else (path[i], path[j])
                        cost = minutes[a, first] + minutes[last, b] - minutes[a, b]
                        cost += turn if turned else forth
                        if cost > freed + SAME_HOP:
                            continue
                        _moved(path, new, i, j, k, turned)
                        found = discord(minutes, new, urgent, section, rank)
                        if found >= best - 1e-9:
                            continue
                        late = False
                        for at in range(2, size - 1):
                            if _earliest(minutes, new, off, at) < at:
                                late = True
                                break
                        if not late:
                            best = found
                            path[:] = new
                            better = True
                            break
                    if better:
                        break
                if better:
                    break
            if better:
                break
