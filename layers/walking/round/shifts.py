"""Boxes shared out among shifts: walks of different days, walkers and lengths.

One search over all shifts of a week, as for several walkers on one day: each shift is a walk
with minutes of its own, and each box may be visited in some of them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from layers.walking.pace import Pace
from layers.walking.round.arrays import SLACK, Orders, ProblemArrays, Shifts
from layers.walking.round.choosing import STEPS, chosen
from layers.walking.round.exact import MAX_STOPS, best_of_shifts
from layers.walking.round.natural import natural
from layers.walking.round.prepare import preference_of, prepare
from layers.walking.round.problem import RoundProblem
from layers.walking.round.result import LeftOut

SEED = 0
"""Of the search's random numbers: any will do."""


NO_SHIFT = "no walker has time on a day on which it is due"
"""Why a box is in no walk where no shift may visit it."""


@dataclass(frozen=True)
class Shift:
    """Minutes that one walker has on one day, and the boxes that may be visited then."""

    minutes: float
    boxes: frozenset[str]


def share_out(
    problem: RoundProblem,
    shifts: Sequence[Shift],
    *,
    pace: Pace,
    go_on: Callable[[], bool] = lambda: True,
) -> tuple[tuple[tuple[str, ...], ...], tuple[LeftOut, ...]]:
    """For each shift its boxes in walking order, and the boxes that are in none, with the reason.

    The most urgent boxes that the shifts can reach are visited, then the walking is shortest.
    The problem's own walkers and limit of time are not used.

    Raises
    ------
    BadValue
        There is no start, or the start or the end cannot be reached.
    """
    prepared = prepare(problem, pace)
    arrays = replace(prepared.arrays, walkers=len(shifts))
    allowed = np.zeros((len(shifts), arrays.end + 1), bool)
    for number, shift in enumerate(shifts):
        for stop, group in enumerate(prepared.groups, start=1):
            allowed[number, stop] = all(one.box in shift.boxes for one in group)
    breaks = problem.breaks
    minutes = np.array([breaks.latest(shift.minutes) for shift in shifts])
    walks: Orders = ((),) * len(shifts)
    if arrays.stops and shifts:
        limits = Shifts(minutes, allowed)
        walks = _best(arrays, limits, go_on)
        preference = preference_of(prepared)
        walks = tuple(natural(arrays, walk, preference) for walk in walks)
    made = {stop for walk in walks for stop in walk}
    left_out = list(prepared.left_out)
    for stop, group in enumerate(prepared.groups, start=1):
        alone = arrays.finish([stop])
        able = minutes[allowed[:, stop]]
        if stop in made:
            continue
        if not len(able):
            reason = NO_SHIFT
        elif alone > able.max() + SLACK:
            most = max(
                shift.minutes for shift, fits in zip(shifts, allowed, strict=True) if fits[stop]
            )
            alone = breaks.clock(alone)
            reason = f"it alone takes {alone:.0f} minutes, and no walker has more than {most:.0f}"
        else:
            reason = "more urgent boxes take the time there is"
        left_out += [LeftOut(one.box, reason) for one in group]
    boxes = tuple(
        tuple(one.box for stop in walk for one in prepared.groups[stop - 1]) for walk in walks
    )
    return boxes, tuple(sorted(left_out, key=lambda left: left.box))


def _best(arrays: ProblemArrays, shifts: Shifts, go_on: Callable[[], bool]) -> Orders:
    """The best plan of a few stops, a good one of many."""
    if arrays.stops <= MAX_STOPS:
        return best_of_shifts(arrays, shifts)
    nothing: Orders = ((),) * len(shifts.minutes)
    return chosen(arrays, nothing, steps=STEPS, seed=SEED, go_on=go_on, shifts=shifts)
