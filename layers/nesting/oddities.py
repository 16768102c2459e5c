"""Sequences of visits that cannot be, or hardly: for a keeper to look at."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from layers.nesting import attempt_columns as c
from layers.nesting.histories import Histories
from layers.nesting.reading.fates import AGE_ERROR_DAYS
from layers.trail.coding import day_number, day_of


@dataclass(frozen=True)
class Oddity:
    """Something about one visit that does not fit; `what` is a sentence."""

    box: str
    day: str
    what: str


def oddities(histories: Histories, *, today: str) -> list[Oddity]:
    """Visits that do not fit, by box and day.

    Days after `today` (ISO), more young than a complete clutch had eggs, ages that do not grow
    with the days, an egg count that grows faster than a bird lays, young that become
    more without eggs to hatch from.
    """
    visits = histories.visits
    limit = day_number(today)
    found = [(int(i), f"lies after {today}") for i in np.flatnonzero(visits.day > limit)]
    found += _within_attempts(histories)
    return [
        Oddity(visits.boxes[visits.box[i]], day_of(visits.day[i]).isoformat(), what)
        for i, what in sorted(found)
    ]


def _within_attempts(histories: Histories) -> Iterator[tuple[int, str]]:
    visits = histories.visits
    same = histories.visit_attempt[1:] == histories.visit_attempt[:-1]
    together = np.flatnonzero(same & (histories.visit_attempt[1:] >= 0))
    for i in together.tolist():
        yield from _step(histories, i, i + 1)
    # Only a clutch counted twice the same is known to have been complete.
    complete = np.where(histories.rows[:, c.STABLE] == 1, histories.rows[:, c.EGGS_MAX], c.MISSING)
    eggs_max = np.append(complete, c.MISSING)[histories.visit_attempt]
    for i in np.flatnonzero((visits.young > eggs_max) & (eggs_max > 0)).tolist():
        yield i, f"{visits.young[i]} young, from {eggs_max[i]} eggs counted"


def _step(histories: Histories, i: int, j: int) -> Iterator[tuple[int, str]]:
    visits = histories.visits
    days = int(visits.day[j] - visits.day[i])
    ages = int(visits.young_days[i]), int(visits.young_days[j])
    if min(ages) >= 0 and abs(ages[1] - ages[0] - days) > AGE_ERROR_DAYS:
        yield j, f"young judged {ages[1]} days old, {days} days after they were judged {ages[0]}"
    eggs = int(visits.eggs[i]), int(visits.eggs[j])
    if min(eggs) >= 0 and eggs[1] > eggs[0] + days + 1 and visits.young[i] <= 0:
        yield j, f"{eggs[1]} eggs, {days} days after {eggs[0]}: faster than one bird lays"
    if visits.young[i] > 0 and visits.young[j] > visits.young[i]:
        grew = visits.young[j] - visits.young[i]
        hatching = max(int(visits.eggs[i]), 0)
        if grew > hatching:
            yield j, f"{visits.young[j]} young, after {visits.young[i]}"
