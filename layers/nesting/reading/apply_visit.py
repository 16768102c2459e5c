"""Take one visit into the attempt that is under way, compiled.

Nothing here looks at other visits; what a visit can mean for the attempt at all is
decided in `attempts.py` before.
"""

from __future__ import annotations

from typing import Any

from layers.nesting import attempt_columns as c
from layers.nesting.compiled import compiled
from layers.nesting.reading.fates import (
    AGE_ERROR_DAYS,
    CLUTCHES_AT_MOST,
    OVERDUE_DAYS,
    earliest_hatch,
    end_building,
    end_dead_clutch,
    end_eggs,
    end_young,
    latest_hatch,
    limit,
)


@compiled
def _alive(row: Any, visit: int, day: int) -> None:
    row[c.ALIVE], row[c.ALIVE_DAY] = visit, day


@compiled
def found_over(row: Any, visit: int, day: int) -> None:
    row[c.OVER], row[c.OVER_DAY] = visit, day


@compiled
def _see_eggs(row: Any, limits: Any, v: Any) -> None:
    """Take an egg count into the attempt; nothing is decided here."""
    lay, most = limit(limits, row, c.LAY_DAYS), limit(limits, row, c.CLUTCH_MOST)
    eggs = v.eggs
    if eggs > CLUTCHES_AT_MOST * most:
        # A slip: there were eggs; how many is unknown.
        row[c.NOTES] |= c.NOTE_MANY_EGGS
        eggs = max(row[c.EGGS_LAST], 1) if row[c.EGG_DAY] != c.MISSING else 1
    if row[c.EGG_DAY] == c.MISSING:
        row[c.EGG_DAY], row[c.EGG_COUNT] = v.day, eggs
        row[c.EGGS_MAX], row[c.EGGS_LAST] = 0, 0
    row[c.LAID] = 1
    if row[c.EGGS_LAST] > 0:
        gap = v.day - row[c.EGGS_DAY]
        if eggs > row[c.EGGS_LAST] + gap // lay + 1:
            row[c.NOTES] |= c.NOTE_MANY_EGGS
        if eggs == row[c.EGGS_LAST] and gap > lay:
            row[c.STABLE] = 1
    if eggs > most:
        row[c.NOTES] |= c.NOTE_MANY_EGGS
    if eggs < row[c.EGGS_LAST]:
        row[c.NOTES] |= c.NOTE_FEWER_EGGS
    if eggs > row[c.EGGS_MAX]:
        row[c.EGGS_MAX], row[c.FULL_DAY] = eggs, v.day
    row[c.EGGS_LAST], row[c.EGGS_DAY] = eggs, v.day
    row[c.PHASE] = max(row[c.PHASE], c.EGGS)
    if v.warm:
        row[c.WARM_DAY], row[c.COLD_RUN] = v.day, 0
    elif v.cold and (row[c.STABLE] == 1 or row[c.WARM_DAY] != c.MISSING):
        # Eggs are cold while a clutch is being laid; only later it means something.
        if row[c.COLD_RUN] == 0:
            row[c.COLD_DAY] = v.day
        row[c.COLD_RUN] += 1


@compiled
def _see_young(row: Any, limits: Any, v: Any) -> None:
    """Take living young into the attempt, and narrow the day of hatching."""
    if row[c.YOUNG_DAY] == c.MISSING:
        row[c.YOUNG_DAY] = v.day
        before = row[c.NO_YOUNG_DAY] + 1 if row[c.NO_YOUNG_DAY] != c.MISSING else c.MISSING
        before = max(before, v.day - limit(limits, row, c.NESTLING_MOST))
        row[c.HATCH_LO] = min(max(before, earliest_hatch(row, limits)), v.day)
        row[c.HATCH_HI] = v.day
        row[c.YOUNG_MAX] = 0
    if v.age >= 0:
        row[c.AGES] += 1
        row[c.AGED_HATCH] += v.day - v.age - row[c.YOUNG_DAY]
        lo = max(row[c.HATCH_LO], v.day - v.age - AGE_ERROR_DAYS)
        hi = min(row[c.HATCH_HI], v.day - v.age + AGE_ERROR_DAYS)
        if lo <= hi:
            row[c.HATCH_LO], row[c.HATCH_HI] = lo, hi
        else:
            row[c.NOTES] |= c.NOTE_AGE_DISAGREES
    if v.young > 0:
        row[c.LAID] = 1
        row[c.YOUNG_MAX] = max(row[c.YOUNG_MAX], v.young)
        row[c.YOUNG_LAST], row[c.YOUNG_LAST_DAY] = v.young, v.day
    if v.eggs > CLUTCHES_AT_MOST * limit(limits, row, c.CLUTCH_MOST):
        row[c.NOTES] |= c.NOTE_MANY_EGGS
    elif v.eggs > 0:
        row[c.NOTES] |= c.NOTE_PART_HATCHED
        row[c.EGGS_MAX] = max(row[c.EGGS_MAX], v.eggs + max(v.young, 0))
    if v.eggs >= 0:
        row[c.EGGS_LEFT] = v.eggs
    row[c.PHASE], row[c.COLD_RUN] = c.YOUNG, 0


@compiled
def _take_building(row: Any, v: Any, i: int) -> int:
    """A nest without eggs: the stage found, STAGE_OVER where it is gone."""
    if v.no_eggs:
        row[c.NO_EGG_DAY] = v.day
    deserted = v.animal and v.no_eggs and not v.sitting
    if v.no_eggs and v.signs & c.SIGNS_LEFT and row[c.NOTES] & c.NOTE_ON_OLD_NEST == 0:
        # What young leave behind, in a nest whose eggs were not seen.
        end_building(row, v.signs)
        return c.STAGE_OVER
    raided = i > row[c.FIRST] and v.signs & c.SIGNS_RAIDED != 0
    if v.nest == c.NEST_NONE or deserted or v.emptied or raided:
        end_building(row, v.signs)
        return c.STAGE_OVER
    _alive(row, i, v.day)
    if v.sitting and v.eggs < 0:
        row[c.PHASE], row[c.FULL_DAY], row[c.WARM_DAY] = c.EGGS, v.day, v.day
        row[c.EGGS_LAST] = -1
        row[c.NOTES] |= c.NOTE_ADULT_ONLY
        return c.STAGE_INCUBATING
    return c.STAGE_BUILDING


@compiled
def _take_eggs(row: Any, limits: Any, v: Any, i: int) -> int:
    """Eggs counted, and no young: the stage found, STAGE_OVER where they are past hope."""
    old = v.day - earliest_hatch(row, limits) >= limit(limits, row, c.NESTLING_TOO_YOUNG)
    if old and v.eggs < row[c.EGGS_LAST] and not v.warm:
        # A brood came and went between two looks, and left these unhatched.
        end_eggs(row, limits, v.day, v.signs, True)
        row[c.EGGS_LEFT] = v.eggs
        return c.STAGE_OVER
    _see_eggs(row, limits, v)
    row[c.NO_YOUNG_DAY] = v.day
    given_up = row[c.COLD_RUN] >= 2 and v.day - row[c.COLD_DAY] >= OVERDUE_DAYS
    given_up |= row[c.COLD_RUN] >= 1 and v.signs & c.SIGNS_PARENT_DEAD != 0
    if given_up or v.day > latest_hatch(row, limits) + OVERDUE_DAYS:
        end_dead_clutch(row, v.signs)
        return c.STAGE_OVER
    if row[c.COLD_RUN] == 0:
        _alive(row, i, v.day)
    laying = row[c.STABLE] == 0 and row[c.EGGS_LAST] < limit(limits, row, c.CLUTCH_USUAL)
    return c.STAGE_LAYING if laying else c.STAGE_INCUBATING


@compiled
def _take_no_count(row: Any, limits: Any, v: Any, i: int) -> int:
    """A clutch under way, and no eggs counted: sat on, gone, or no news."""
    raided = v.signs & c.SIGNS_RAIDED != 0
    if row[c.LAID] == 0 and v.no_eggs and v.nest > c.NEST_NONE and v.young <= 0 and not raided:
        # Known by a sitting adult alone, and now seen without eggs: still building.
        row[c.PHASE], row[c.NO_EGG_DAY] = c.BUILDING, v.day
        row[c.NOTES] &= ~c.NOTE_ADULT_ONLY
        _alive(row, i, v.day)
        return c.STAGE_BUILDING
    if v.sitting:
        _alive(row, i, v.day)
        row[c.WARM_DAY], row[c.COLD_RUN] = v.day, 0
    elif v.no_eggs:
        end_eggs(row, limits, v.day, v.signs, v.no_young)
        return c.STAGE_OVER
    return c.STAGE_INCUBATING


@compiled
def _take_no_young(row: Any, limits: Any, v: Any) -> int:
    """A brood under way, and no living young counted: gone, or no news."""
    gone = v.no_young or (v.young < 0 and (v.signs & c.SIGNS_LEFT != 0 or v.dead > 0))
    if not gone:
        return c.STAGE_NESTLINGS
    end_young(row, limits, v.day, v.signs, v.dead)
    row[c.DEAD] += max(v.dead, 0)
    if v.eggs > 0:
        row[c.EGGS_LEFT] = v.eggs
    return c.STAGE_OVER


@compiled
def apply_visit(row: Any, limits: Any, v: Any, i: int) -> int:
    """Take a visit into the attempt under way; the stage it found."""
    phase = row[c.PHASE]
    if v.young > 0 or (v.feeding and v.young < 0 and phase >= c.EGGS):
        if v.eggs > 0 and row[c.EGG_DAY] == c.MISSING:
            _see_eggs(row, limits, v)
        _see_young(row, limits, v)
        row[c.DEAD] += max(v.dead, 0)
        _alive(row, i, v.day)
        return c.STAGE_NESTLINGS
    if v.eggs > 0 and phase != c.YOUNG:
        return _take_eggs(row, limits, v, i)
    if phase == c.BUILDING:
        return _take_building(row, v, i)
    if phase == c.EGGS:
        return _take_no_count(row, limits, v, i)
    return _take_no_young(row, limits, v)


@compiled
def see_mistaken(row: Any, v: Any, i: int) -> int:
    """Take in a visit whose young cannot have been there: the nest lives, and no more is known."""
    _alive(row, i, v.day)
    return c.STAGE_BUILDING if row[c.PHASE] == c.BUILDING else c.STAGE_INCUBATING


@compiled
def take_out(row: Any, limits: Any, v: Any) -> None:
    """The keeper took the nest out while the attempt counted as under way."""
    if row[c.PHASE] == c.BUILDING:
        end_building(row, v.signs)
    elif row[c.COLD_RUN] > 0 or (v.cold and row[c.EGG_DAY] == v.day):
        # Eggs are cold while a clutch is being laid; with no count before, nothing speaks for it.
        row[c.COLD_RUN] = max(row[c.COLD_RUN], 1)
        end_dead_clutch(row, v.signs)
    elif v.young > 0 or (v.eggs > 0 and row[c.PHASE] == c.EGGS):
        row[c.FATE], row[c.CAUSE], row[c.WHY] = c.FATE_FAILED, c.NEST_REMOVED, c.WHY_KEEPER
        row[c.FLEDGED] = 0
    elif row[c.PHASE] == c.EGGS:
        end_eggs(row, limits, v.day, v.signs, True)
    else:
        end_young(row, limits, v.day, v.signs, v.dead)
