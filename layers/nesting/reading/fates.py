"""How an attempt ended: the rules of fate and cause, compiled.

Each function fills FATE, CAUSE, WHY and FLEDGED of one attempt's row. The rules
lean to "unknown": young are called fledged only where they were alive at an age
at which young leave, or where signs of leaving were seen at such an age.
"""

from __future__ import annotations

from typing import Any

from layers.nesting import attempt_columns as c
from layers.nesting.compiled import compiled

# Between the last egg count and the young's first count an observer may be off by a day or two;
# a judged age may be off by three days (common practice, no source).
AGE_ERROR_DAYS = 3
# Days that are allowed beyond the longest incubation before a clutch counts as dead
# (common practice, no source).
OVERDUE_DAYS = 7
# A count of more than so many of the largest clutches of one female is a slip of the pen; two
# females or three may lay in one nest (our own choice, no source).
CLUTCHES_AT_MOST = 3


@compiled
def limit(limits: Any, row: Any, which: int) -> int:
    """One limit of the attempt's species."""
    return limits[row[c.SPECIES] + 1, which]


@compiled
def latest_hatch(row: Any, limits: Any) -> int:
    """Last day on which the clutch could hatch if its parents kept to it."""
    to_come = 0
    if row[c.STABLE] == 0:
        counted = max(row[c.EGGS_LAST], 0)
        most = limit(limits, row, c.CLUTCH_MOST)
        to_come = max(most - counted, 0) * limit(limits, row, c.LAY_DAYS)
    return row[c.FULL_DAY] + to_come + limit(limits, row, c.INCUBATION_MOST) + 2


@compiled
def laying_seen(row: Any) -> bool:
    """Whether eggs became more after they were first counted, and that was before any young.

    Eggs first counted beside young are what was left unhatched.
    """
    counted = row[c.EGG_DAY] != c.MISSING
    before_young = row[c.YOUNG_DAY] == c.MISSING or row[c.EGG_DAY] < row[c.YOUNG_DAY]
    return counted and before_young and row[c.EGGS_MAX] > row[c.EGG_COUNT]


@compiled
def earliest_hatch(row: Any, limits: Any) -> int:
    """First day on which young could be in the nest, from the egg counts."""
    earliest = row[c.NO_YOUNG_DAY]
    if row[c.YOUNG_DAY] != row[c.FIRST_DAY]:
        earliest = max(earliest, row[c.FIRST_DAY])
    # Eggs beyond one female's largest clutch were laid by several, on the same days.
    eggs = min(max(row[c.EGGS_MAX], 1), limit(limits, row, c.CLUTCH_MOST))
    lay = limit(limits, row, c.LAY_DAYS)
    sitting = limit(limits, row, c.INCUBATION_LEAST) - limit(limits, row, c.EARLY_DAYS)
    to_hatch = (eggs - 1) * lay + sitting
    if row[c.NO_EGG_DAY] != c.MISSING:
        earliest = max(earliest, row[c.NO_EGG_DAY] + 1 + to_hatch)
    if laying_seen(row):
        # The first egg lies close before the first count.
        counted = min(row[c.EGG_COUNT], limit(limits, row, c.CLUTCH_MOST))
        first = row[c.EGG_DAY] - (counted - 1) * lay - 2
        earliest = max(earliest, first + to_hatch)
    return earliest


@compiled
def _close(row: Any, fate: int, cause: int, why: int) -> None:
    row[c.FATE] = fate
    row[c.CAUSE] = cause
    row[c.WHY] = why
    if fate == c.FATE_FAILED:
        row[c.FLEDGED] = 0


@compiled
def cause_from_signs(signs: int, otherwise: int) -> int:
    """The cause that the signs at a lost nest speak for."""
    if signs & c.SIGNS_RAIDED:
        return c.PREDATOR
    if signs & c.SIGNS_PARENT_DEAD:
        return c.PARENT_DIED
    if signs & c.SIGNS_INSECTS:
        return c.INSECTS
    if signs & c.SIGNS_PERHAPS_RAIDED:
        return c.PREDATOR
    if signs & c.SIGNS_WEATHER:
        return c.COLD_OR_WET
    return otherwise


@compiled
def end_building(row: Any, signs: int) -> None:
    """The material is gone or torn, or another took the box, before an egg was seen."""
    if signs & c.SIGNS_RAIDED:
        _close(row, c.FATE_FAILED, c.PREDATOR, c.WHY_RAIDED)
    elif signs & c.SIGNS_LEFT:
        _close(row, c.FATE_UNKNOWN, c.NO_CAUSE, c.WHY_USED)
    else:
        _close(row, c.FATE_UNKNOWN, c.NO_CAUSE, c.WHY_NEVER_LAID)


@compiled
def end_eggs(row: Any, limits: Any, day: int, signs: int, young_known: bool) -> None:
    """The eggs were found gone on `day`."""
    if limit(limits, row, c.LEAVES_AT_ONCE) and day >= earliest_hatch(row, limits):
        if signs & c.SIGNS_SHELLS:
            _close(row, c.FATE_FLEDGED, c.NO_CAUSE, c.WHY_SHELLS)
        elif signs & (c.SIGNS_RAIDED | c.SIGNS_PERHAPS_RAIDED):
            _close(row, c.FATE_FAILED, c.PREDATOR, c.WHY_RAIDED)
        else:
            _close(row, c.FATE_UNKNOWN, c.NO_CAUSE, c.WHY_UNDECIDED)
        return
    hatched_by = earliest_hatch(row, limits)
    could_have_left = day - hatched_by >= limit(limits, row, c.NESTLING_TOO_YOUNG)
    if could_have_left:
        if signs & c.SIGNS_RAIDED:
            _close(row, c.FATE_FAILED, c.PREDATOR, c.WHY_RAIDED)
        elif signs & c.SIGNS_LEFT and day - hatched_by >= limit(limits, row, c.NESTLING_LEAVES):
            _close(row, c.FATE_FLEDGED, c.NO_CAUSE, c.WHY_LEFT_SIGNS)
        else:
            _close(row, c.FATE_UNKNOWN, c.NO_CAUSE, c.WHY_UNDECIDED)
    elif not young_known and day >= hatched_by and not signs & c.SIGNS_RAIDED:
        # "No eggs" and the young not recorded, at a time when there may be young.
        _close(row, c.FATE_UNKNOWN, c.NO_CAUSE, c.WHY_UNDECIDED)
    elif row[c.COLD_RUN] > 0:
        _close(row, c.FATE_FAILED, cause_from_signs(signs, c.ABANDONED), c.WHY_COLD)
    else:
        _close(row, c.FATE_FAILED, cause_from_signs(signs, c.CAUSE_NOT_KNOWN), c.WHY_EGGS_GONE)


@compiled
def end_dead_clutch(row: Any, signs: int) -> None:
    """The eggs are still there long after they should have hatched, or cold again and again."""
    if row[c.COLD_RUN] > 0:
        cause = c.PARENT_DIED if signs & c.SIGNS_PARENT_DEAD else c.ABANDONED
        _close(row, c.FATE_FAILED, cause, c.WHY_COLD)
    else:
        _close(row, c.FATE_FAILED, c.DID_NOT_HATCH, c.WHY_OVERDUE)
    row[c.EGGS_LEFT] = row[c.EGGS_LAST]


@compiled
def _count_fledged(row: Any, limits: Any) -> None:
    """Young that fledged: the last count less the dead, where that count was late enough.

    Late enough is two thirds of the shortest nestling period: by then losses are
    few (common practice, no source).
    """
    age = row[c.YOUNG_LAST_DAY] - row[c.HATCH_LO]
    late = 3 * age >= 2 * limit(limits, row, c.NESTLING_LEAVES)
    if row[c.YOUNG_LAST] > 0 and late:
        row[c.FLEDGED] = row[c.YOUNG_LAST]


@compiled
def end_young(row: Any, limits: Any, day: int, signs: int, dead: int) -> None:
    """The young were found gone, or dead, on `day`."""
    leaves = limit(limits, row, c.NESTLING_LEAVES)
    alive_age = row[c.ALIVE_DAY] - row[c.HATCH_HI]
    age_now = day - row[c.HATCH_LO]
    known = max(row[c.YOUNG_LAST], 1)
    if dead >= known:
        cause = cause_from_signs(signs, c.YOUNG_DIED)
        _close(row, c.FATE_FAILED, cause, c.WHY_ALL_DEAD)
    elif age_now < limit(limits, row, c.NESTLING_TOO_YOUNG):
        otherwise = c.YOUNG_DIED if dead > 0 else c.CAUSE_NOT_KNOWN
        _close(row, c.FATE_FAILED, cause_from_signs(signs, otherwise), c.WHY_TOO_YOUNG)
    elif signs & c.SIGNS_RAIDED:
        if alive_age >= leaves and signs & c.SIGNS_LEFT:
            _close(row, c.FATE_UNKNOWN, c.NO_CAUSE, c.WHY_UNDECIDED)
        else:
            _close(row, c.FATE_FAILED, c.PREDATOR, c.WHY_RAIDED)
    elif alive_age >= leaves:
        _close(row, c.FATE_FLEDGED, c.NO_CAUSE, c.WHY_OLD_ENOUGH)
    elif signs & c.SIGNS_LEFT and age_now >= leaves:
        _close(row, c.FATE_FLEDGED, c.NO_CAUSE, c.WHY_LEFT_SIGNS)
    else:
        _close(row, c.FATE_UNKNOWN, c.NO_CAUSE, c.WHY_UNDECIDED)
    if row[c.FATE] == c.FATE_FLEDGED:
        _count_fledged(row, limits)
        if row[c.FLEDGED] != c.MISSING:
            row[c.FLEDGED] -= max(dead, 0)


@compiled
def lapse(row: Any, limits: Any) -> None:
    """What becomes of the attempt without a later look, and from when on."""
    row[c.LATER_FATE] = c.FATE_UNKNOWN
    row[c.LATER_WHY] = c.WHY_NOT_LOOKED
    if row[c.PHASE] == c.BUILDING:
        # A nest without eggs is given up for lost after six weeks (common practice, no source).
        row[c.LAPSES] = row[c.ALIVE_DAY] + 42
        row[c.LATER_WHY] = c.WHY_NEVER_LAID
    elif row[c.PHASE] == c.EGGS:
        row[c.LAPSES] = latest_hatch(row, limits) + limit(limits, row, c.NESTLING_MOST)
    else:
        row[c.LAPSES] = row[c.HATCH_HI] + limit(limits, row, c.NESTLING_MOST)
        if row[c.ALIVE_DAY] - row[c.HATCH_HI] >= limit(limits, row, c.NESTLING_LEAVES):
            row[c.LATER_FATE] = c.FATE_FLEDGED
            row[c.LATER_WHY] = c.WHY_OLD_ENOUGH
    row[c.LAPSES] = max(row[c.LAPSES], row[c.ALIVE_DAY])
