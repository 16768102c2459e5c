"""How likely it is that people saw in a nest what they wrote down, on a course of its days.
Compiled.
"""

from __future__ import annotations

import math
from typing import Any

from layers.nesting.compiled import compiled
from layers.nesting.dating import model as m
from layers.nesting.dating import terms as t

NEVER = 10_000_000
"""A day of hatching that never comes."""


@compiled
def age_chance(judged: int, true_age: int, chances: Any) -> float:
    """That young of an age are judged to be so many days old; any number where it is a slip."""
    slip = chances[m.SLIP]
    right = judged_chance(judged, true_age, chances)
    ten_off = judged_chance(judged + 10, true_age, chances)
    if judged >= 10:
        ten_off += judged_chance(judged - 10, true_age, chances)
    return float((1.0 - slip) * right + slip * (0.5 * any_age(judged) + 0.25 * ten_off))


@compiled
def any_age(judged: int) -> float:
    """Chance of an age that is a slip, of any number of days up to thirty."""
    return 1.0 / 31.0 if judged <= 30 else 0.0001


@compiled
def judged_chance(judged: int, true_age: int, chances: Any) -> float:
    """That young of an age are judged to be so many days old, without a slip."""
    if abs(judged - true_age) > chances[m.AGE_ERROR_MOST]:
        return 0.0
    scale = chances[m.AGE_ERROR_DAYS] * math.sqrt(2.0)
    above = math.erf((judged + 0.5 - true_age) / scale)
    # No young are judged to be less than 0 days old.
    below = -1.0 if judged == 0 else math.erf((judged - 0.5 - true_age) / scale)
    return float((above - below) / 2.0)


@compiled
def hatch_chance(visits: Any, hatch: int, chances: Any) -> float:
    """Of what was seen of eggs and young, if the first hatched on a day."""
    chance = 1.0
    for k in range(len(visits)):
        says, day = visits[k]["says"], visits[k]["day"]
        if says in (t.SHOWS_EGGS, t.SHOWS_EGGS_LATE) and day >= hatch:
            chance *= chances[m.MISREAD]
            if visits[k]["warm"] == 1:
                # Whoever felt warm eggs did not mean young.
                chance *= chances[m.MISREAD_WARM]
        elif says == t.SHOWS_YOUNG:
            age = visits[k]["age"]
            if day < hatch:
                chance *= chances[m.MISREAD] * (any_age(age) if age >= 0 else 1.0)
            elif age >= 0:
                chance *= age_chance(age, day - hatch, chances)
    return chance


@compiled
def sitting_chance(visits: Any, last_egg: int, hatch: int, tables: Any) -> float:
    """Of warm and cold eggs, sitting parents and the day of hatching, over every day on which
    sitting may begin.
    """
    sitting, incubation, chances = tables.sitting, tables.incubation, tables.chances
    total = 0.0
    for s in range(len(sitting)):
        chance = sitting[s]
        if hatch != NEVER:
            days = hatch - last_egg - min(t.EARLIEST_SITTING + s - t.USUAL_SITTING, 0)
            chance *= incubation[days] if 0 <= days < len(incubation) else 0.0
        if chance == 0.0:
            continue
        begins = last_egg + t.EARLIEST_SITTING + s
        for k in range(len(visits)):
            says, day, warm = visits[k]["says"], visits[k]["day"], visits[k]["warm"]
            if says == t.SHOWS_EGGS and warm >= 0:
                is_warm = chances[m.WARM_SITTING] if day >= begins else chances[m.WARM_LAYING]
                chance *= is_warm if warm == 1 else 1.0 - is_warm
            elif says == t.SHOWS_SITTING:
                if day < begins:
                    chance *= chances[m.SEEN_LAYING]
                elif day < hatch:
                    chance *= chances[m.SEEN_SITTING]
                elif day <= hatch + chances[m.BROODING_DAYS]:
                    chance *= chances[m.SEEN_BROODING]
                else:
                    chance *= chances[m.MISREAD]
        total += chance
    return total


@compiled
def later_chance(visits: Any, hatch: int, end: int, left: float, chances: Any) -> float:
    """Of the looks that did not show whether the nest lived, if it ended on a day.

    `left` is the chance that eggs lay there afterwards: once they do, they do at every look.
    """
    chance, lie = 1.0, False
    for k in range(len(visits)):
        says, day = visits[k]["says"], visits[k]["day"]
        if says == t.SHOWS_NEAR:
            if day >= end:
                chance *= chances[m.NEAR_OVER]
            else:
                chance *= chances[m.NEAR_YOUNG] if day >= hatch else chances[m.NEAR_EGGS]
        elif says == t.SHOWS_QUIET:
            if day >= end:
                chance *= chances[m.QUIET_OVER]
            else:
                chance *= chances[m.QUIET_YOUNG] if day >= hatch else chances[m.QUIET_EGGS]
        elif says == t.SHOWS_EGGS_LEFT:
            if day < end:
                if day >= hatch:
                    return 0.0
                chance *= chances[m.COLD_ALIVE] if visits[k]["warm"] == 0 else 1.0
            elif not lie:
                chance *= left
                lie = True
    return chance


@compiled
def eggs_lay_there(visits: Any, end: int) -> bool:
    """Whether a look between a nest's end and the one that found it over saw its eggs."""
    for k in range(len(visits)):
        if visits[k]["says"] == t.SHOWS_EGGS_LEFT and visits[k]["day"] >= end:
            return True
    return False
