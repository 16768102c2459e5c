"""What the visits that follow say of one that does not decide by itself, compiled."""

from __future__ import annotations

from typing import Any

from layers.nesting import attempt_columns as c
from layers.nesting.compiled import compiled
from layers.nesting.reading.fates import AGE_ERROR_DAYS, earliest_hatch, latest_hatch, limit

# A new clutch follows a lost one after some days (common practice, no source).
RELAY_DAYS = 4
# How far ahead a count that fell may rise again and still show a new clutch.
RELAY_LOOKAHEAD_DAYS = 16
# Days that one clutch may skip between its eggs in all (our own choice, no source).
_GAP_DAYS = 3
# Laying, sitting and hatching are known to a day or two.
_SLACK_DAYS = 2


@compiled
def next_species(seen: Any, at: int, hi: int) -> int:
    """Species recorded next after a visit, -1 if none is."""
    for j in range(at + 1, hi):
        if seen[j].species >= 0:
            return seen[j].species
    return -1


@compiled
def rises_again(seen: Any, at: int, hi: int) -> bool:
    """Whether eggs, few now, are more at a visit soon after, before any young."""
    for j in range(at + 1, hi):
        if seen[j - 1].emptied:
            return False
        if seen[j].day - seen[at].day > RELAY_LOOKAHEAD_DAYS or seen[j].young > 0:
            return False
        if seen[j].eggs >= 0:
            return seen[j].eggs > seen[at].eggs
    return False


@compiled
def comes_alive(seen: Any, at: int, hi: int) -> bool:
    """Whether the eggs of a visit are found to be alive at it or soon after."""
    for j in range(at, hi):
        if seen[j].day - seen[at].day > RELAY_LOOKAHEAD_DAYS or (j > at and seen[j].no_eggs):
            return seen[j].young > 0
        if seen[j].warm or seen[j].young > 0 or seen[j].eggs > seen[at].eggs:
            return True
    return False


@compiled
def hatches_too_late(seen: Any, limits: Any, row: Any, at: int, hi: int) -> bool:
    """Whether every age of the young that follow makes them hatch later than the eggs under way
    can have, if those of the visit are the same clutch. Cold ones are.
    """
    if seen[at].cold:
        return False
    latest = latest_hatch(row, limits)
    if row[c.EGGS_LAST] > 0:
        more = max(seen[at].eggs - row[c.EGGS_LAST], 0) * limit(limits, row, c.LAY_DAYS)
        sat = limit(limits, row, c.INCUBATION_MOST) + _SLACK_DAYS
        latest = min(latest, row[c.EGGS_DAY] + more + _GAP_DAYS + sat)
    eggs, hatched, aged = seen[at].eggs, False, False
    for j in range(at + 1, hi):
        if seen[j].young > 0:
            hatched = True
            if seen[j].age >= 0:
                aged = True
                if seen[j].day - seen[j].age - AGE_ERROR_DAYS <= latest:
                    return False
        elif seen[j].emptied or seen[j].no_eggs & seen[j].no_young:
            break
        elif seen[j].eggs > 0:
            if hatched or seen[j].eggs < eggs:
                # Of another clutch, like all young after it.
                break
            eggs = seen[j].eggs
    return aged


@compiled
def young_by_mistake(seen: Any, limits: Any, row: Any, at: int, hi: int) -> bool:
    """Whether the young of a visit, the first of the attempt, cannot have been there.

    They came before any could hatch, and no age was judged; or all the eggs of before are there
    at the next look, and no young, before another clutch can have been laid.
    """
    if row[c.PHASE] == c.YOUNG or seen[at].young <= 0:
        return False
    if seen[at].age < 0 and seen[at].day < earliest_hatch(row, limits) - _SLACK_DAYS:
        return True
    for j in range(at + 1, hi):
        if seen[j].young > 0 or seen[j].no_eggs or seen[j - 1].emptied:
            return False
        if seen[j].eggs > 0:
            laid = RELAY_DAYS + (seen[j].eggs - 1) * limit(limits, row, c.LAY_DAYS)
            soon = seen[j].day - seen[at].day < laid
            return soon and seen[j].eggs >= row[c.EGGS_LAST] > 0
    return False
