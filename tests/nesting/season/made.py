"""Season tables from intervals written down by hand or thrown by dice."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.random import Generator

from layers.nesting import attempt_columns as c
from layers.nesting.dating import date_attempts
from layers.nesting.dating.terms import FIRST_EGG, N_EVENTS
from layers.nesting.histories import Histories
from layers.nesting.season.broods import BroodCounts
from layers.nesting.season.courses import known_courses
from layers.nesting.season.exposure import season_table
from layers.nesting.season.intervals import Intervals
from layers.nesting.season.tables import SeasonTable


def table_of(intervals: Sequence[tuple[int, int, int, bool]]) -> SeasonTable:
    """A table from (nest, egg days, young days, lost) of each interval.

    Each nest has a box of its own; it failed where one of its intervals has a loss, and
    fledged otherwise.
    """
    nest, egg_days, young_days, lost = (
        np.array(intervals, np.int64).reshape(-1, 4).T if len(intervals) else np.zeros((4, 0), int)
    )
    size = int(nest.max()) + 1 if len(nest) else 0
    rows = np.full((size, c.N_COLUMNS), c.MISSING, np.int32)
    rows[:, c.BOX], rows[:, c.SPECIES], rows[:, c.SEASON] = np.arange(size), -1, 2026
    rows[:, c.LAID], rows[:, c.CAUSE], rows[:, c.NOTES] = 1, c.NO_CAUSE, 0
    fate = np.full(size, c.FATE_FLEDGED, np.int32)
    fate[nest[lost == 1]] = c.FATE_FAILED
    first = np.ones(len(nest), bool)
    first[1:] = nest[1:] != nest[:-1]
    days = egg_days + young_days
    before = np.cumsum(days) - days
    start = before - before[first][np.cumsum(first) - 1] if len(nest) else before
    none = np.full(size, -1)
    watched = Intervals(nest, start, egg_days, young_days, lost == 1)
    return SeasonTable(
        boxes=tuple(f"B{i}" for i in range(size)),
        species_names=(),
        attempt=np.arange(size),
        rows=rows,
        number=np.ones(size, np.int32),
        limits=np.zeros((size, c.N_LIMITS), np.int32),
        fate=fate,
        best=np.where(np.arange(N_EVENTS) == FIRST_EGG, 0, np.full((size, N_EVENTS), c.MISSING)),
        width_days=np.ones((size, N_EVENTS)),
        intervals=watched,
        courses=known_courses(watched, fate == c.FATE_FLEDGED),
        broods=BroodCounts(none, none, 0 * none, 0 * none, np.zeros(size)),
        checked=np.column_stack([np.arange(size), np.full(size, 2026)]).astype(np.int64),
    )


def dated_table(histories: Histories, **given: Any) -> SeasonTable:
    """The season's table of histories, with their dates."""
    return season_table(histories, date_attempts(histories), **given)


def equal_intervals(*, days: int, n: int, lost: int) -> SeasonTable:
    """`n` nests watched over one interval each, of which some were lost."""
    return table_of([(i, days, 0, i < lost) for i in range(n)])


def thrown(
    random: Generator,
    *,
    nests: int,
    survival: float | tuple[float, float],
    egg_days: int = 17,
    young_days: int = 18,
    interval_days: int = 7,
) -> SeasonTable:
    """Nests with a known chance to live through each day, looked at every few days.

    Each is found on a day of its egg stage thrown by dice, if it is still alive then.
    """
    with_eggs, with_young = survival if isinstance(survival, tuple) else (survival, survival)
    chance = np.r_[np.full(egg_days, with_eggs), np.full(young_days, with_young)]
    rows: list[tuple[int, int, int, bool]] = []
    nest = 0
    for _ in range(nests):
        lived = random.random(len(chance)) < chance
        lost_on = int(np.argmin(lived)) if not lived.all() else len(chance)
        day = int(random.integers(0, interval_days))
        if lost_on < day:
            continue
        while day < len(chance):
            until = min(day + interval_days, len(chance))
            eggs = max(min(until, egg_days) - day, 0)
            rows.append((nest, eggs, until - day - eggs, lost_on < until))
            if lost_on < until:
                break
            day = until
        nest += 1
    return table_of(rows)
