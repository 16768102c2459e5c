"""Every way in which a clutch may have been laid, weighed by the egg counts. Compiled.

For each day of the first egg the eggs are laid one after another; the ways of
getting to the same number on the same day are summed as they meet, so that none is
left out and none is walked twice.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from layers.nesting.compiled import compiled
from layers.nesting.dating import model as m
from layers.nesting.dating import terms as t


@compiled
def any_count(counted: int) -> float:
    """Chance of a count that is a slip: nearly every one is below ten."""
    if counted < 10:
        return 0.095
    return 0.0008 if counted < 70 else 0.00001


@compiled
def count_chance(counted: int, laid: int, chances: Any) -> float:
    """That so many eggs are counted where so many were laid; any number where it is a slip."""
    right = 0.0
    if counted == laid:
        right = 1.0
    elif counted == laid + 1 and counted >= 3:
        right = chances[m.EGG_OVER]
    elif 0 < counted < laid:
        right = chances[m.EGG_SHORT] * (1.0 / 3.0) ** (laid - counted - 1)
    return float((1.0 - chances[m.SLIP]) * right + chances[m.SLIP] * any_count(counted))


@compiled
def brood_chance(found: int, laid: int, chances: Any) -> float:
    """That at most so many young and eggs together were found in a nest with young; any number
    where it is a slip.
    """
    if found <= 0:
        return 1.0
    fails, right = chances[m.EGG_FAILS], 0.0
    if found == laid + 1 and found >= 3:
        right = chances[m.EGG_OVER] * (1.0 - fails) ** laid
    elif found <= laid:
        right = (1.0 - fails) ** found * fails ** (laid - found)
        for k in range(found):
            right *= (laid - k) / (k + 1.0)
    return float((1.0 - chances[m.SLIP]) * right + chances[m.SLIP] * any_count(found))


@compiled
def weigh_laying(visits: Any, origin: int, no_egg: int, tables: Any, weights: Any) -> None:
    """Fill `weights[f, d]`: first egg on day `origin + f`, last egg d days later.

    `no_egg` is the day of a visit that recorded no egg, which may be wrong.
    """
    n_first, chances = len(weights), tables.chances
    most, eggs_high = tables.spans[t.LAYING_MOST], tables.spans[t.CLUTCH_HIGH]
    days = n_first + most
    # counts[j, x]: chance of the counts on day x if j eggs lie there (0: none is laid yet).
    # rest[j, x]: of all counts from day x on if j eggs are the whole clutch.
    counts = np.ones((eggs_high + 1, days + 1))
    rest = np.ones((eggs_high + 1, days + 1))
    found = 0
    for k in range(len(visits)):
        says, day = visits[k]["says"], visits[k]["day"] - origin
        if says in (t.SHOWS_EGGS, t.SHOWS_EGGS_LEFT, t.SHOWS_NO_EGG):
            at = min(max(day, 0), days)
            eggs = max(visits[k]["eggs"], 0)
            for j in range(eggs_high + 1):
                counts[j, at] *= count_chance(eggs, j, chances)
        elif says == t.SHOWS_YOUNG:
            brood = max(visits[k]["young"], 0) + max(visits[k]["eggs"], 0)
            if brood <= eggs_high + 1:
                # More than can have been laid is a slip, and says nothing.
                found = max(found, brood)
    for j in range(1, eggs_high + 1):
        rest[j, days] = counts[j, days] * tables.clutch[j] * brood_chance(found, j, chances)
        for x in range(days - 1, -1, -1):
            rest[j, x] = rest[j, x + 1] * counts[j, x]

    gap, longest = chances[m.LAYING_GAP], tables.spans[t.INTERVAL_HIGH] + 1
    ways = np.zeros((eggs_high + 2, most + 1))
    for f in range(n_first):
        ways[:] = 0.0
        ways[1, 0] = count_chance(0, 1, chances) if origin + f <= no_egg else 1.0
        for x in range(f):
            ways[1, 0] *= counts[0, x]
        for j in range(1, eggs_high + 1):
            for d in range(most + 1):
                way = ways[j, d]
                if way == 0.0:
                    continue
                weights[f, d] += way * rest[j, f + d]
                for step in range(1, min(longest, most - d) + 1):
                    way *= counts[j, f + d + step - 1]
                    if way == 0.0:
                        break
                    chance = (1.0 - gap) * tables.interval[step] + gap * tables.interval[step - 1]
                    ways[j + 1, d + step] += way * chance
