"""From weights of days to best days and intervals, for many attempts. Compiled."""

from __future__ import annotations

from typing import Any

import numpy as np

from layers.nesting import attempt_columns as c
from layers.nesting.compiled import compiled
from layers.nesting.dating import terms as t
from layers.nesting.dating.weighing import weigh

PARTS = (0.025, 0.1, 0.9, 0.975)
"""The shares of the weight below each end of the 95 % and 80 % intervals, ascending."""

CLOSED_ABOVE = 0.01
"""A box stays closed on a day on which large young are in it with more than this chance. Twice as
much closes 14.5 rather than 15.9 % of the days with younger young, and opens the box on 0.41
rather than 0.32 % of those with large ones (600 boxes each, other seeds, slips in 1 %; without
slips neither opens any)."""


@compiled
def moment_below(weights: Any, total: float, share: float) -> float:
    """The moment, in days after the first, before which a share of the weight is.

    The weight of a day is spread evenly over its 24 hours.
    """
    wanted, so_far = share * total, 0.0
    for day in range(len(weights)):
        if so_far + weights[day] >= wanted and weights[day] > 0.0:
            return float(day + (wanted - so_far) / weights[day])
        so_far += weights[day]
    return float(len(weights))


@compiled
def sum_up(origin: int, post: Any, best: Any, ends: Any) -> None:
    """Fill the best day (median) and the four interval ends of each event with any weight."""
    for event in range(t.N_EVENTS):
        total = 0.0
        for day in range(post.shape[1]):
            total += post[event, day]
        if total <= 0.0:
            continue
        median = moment_below(post[event], total, 0.5)
        # A median on midnight belongs to the day before it.
        best[event] = origin + int(np.ceil(median)) - 1
        for k in range(len(PARTS)):
            ends[event, k] = origin + moment_below(post[event], total, PARTS[k])


@compiled
def first_eggs(weighed: tuple[int, Any, Any]) -> tuple[int, Any]:
    """First day of the axis and the chance of each day of the first egg; none where no course
    fits.
    """
    origin, post, sums = weighed
    if sums[t.TOTAL] > 0.0:
        return origin, post[t.FIRST_EGG] / sums[t.TOTAL]
    return origin, np.zeros(0)


@compiled
def weigh_first(visits: Any, starts: Any, frames: Any, tables: Any) -> Any:
    """`weigh` for the first of an attempt and the clutches that followed it."""
    following = (0, np.zeros(0))
    for a in range(len(frames) - 1, 0, -1):
        weighed = weigh(visits[starts[a] : starts[a + 1]], frames[a], tables, following)
        following = first_eggs(weighed)
    return weigh(visits[: starts[1]], frames[0], tables, following)


@compiled
def find_closed(origin: int, post: Any, scale: float, closed: Any) -> None:
    """Fill the first and last day on which large young are likelier than `CLOSED_ABOVE`."""
    for day in range(post.shape[1]):
        if post[t.LARGE_YOUNG, day] * scale > CLOSED_ABOVE:
            if closed[0] == c.MISSING:
                closed[0] = origin + day
            closed[1] = origin + day


@compiled
def close_if_wrong(visits: Any, frame: Any, tables: Any, total: float, closed: Any) -> float:
    """The chance that the visit that found a nest over is wrong, and the nest goes on.

    `total` is the weight of all courses that end by that visit. Fills `closed` for the case
    that it is wrong.
    """
    goes_on = frame.copy()
    goes_on[t.F_OVER] = c.MISSING
    origin, post, sums = weigh(visits, goes_on, tables, (0, np.zeros(0)))
    wrong = sums[t.TOTAL] * tables.findings[frame[t.F_FOUND], t.GOES_ON]
    if wrong <= 0.0:
        return 0.0
    chance = wrong / (wrong + total)
    find_closed(origin, post, chance / sums[t.TOTAL], closed)
    return float(chance)


@compiled
def date_all(
    visits: Any, starts: Any, frames: Any, tables: Any, results: tuple[Any, Any, Any, Any, Any]
) -> None:
    """`weigh` and `sum_up` for every attempt, into a row each of best days, ends, sums, closed
    days and the chance that it goes on though a visit found it over.
    """
    best, ends, sums, closed, goes_on = results
    following = (0, np.zeros(0))
    for a in range(len(frames) - 1, -1, -1):
        if not frames[a, t.F_FOLLOWED]:
            following = (0, np.zeros(0))
        weighed = weigh(visits[starts[a] : starts[a + 1]], frames[a], tables, following)
        origin, post, sums[a] = weighed
        if sums[a, t.TOTAL] > 0.0:
            sum_up(origin, post, best[a], ends[a])
            if frames[a, t.F_OVER] == c.MISSING:
                find_closed(origin, post, 1.0 / sums[a, t.TOTAL], closed[a])
        if frames[a, t.F_UNCONFIRMED]:
            own = visits[starts[a] : starts[a + 1]]
            goes_on[a] = close_if_wrong(own, frames[a], tables, sums[a, t.TOTAL], closed[a])
        following = first_eggs(weighed)
