"""The best days of an attempt's parts, from its own visits and its species' limits.

Used for the map's days and a card's bar: first egg, clutch complete, hatching,
end. They always keep to the visits: never before a visit that saw it not yet so,
never after one that saw it so.
"""

from __future__ import annotations

from typing import Any

from layers.nesting import attempt_columns as c
from layers.nesting.compiled import compiled
from layers.nesting.ending import earliest_hatch, laying_seen, limit


@compiled
def settle(row: Any, limits: Any) -> None:
    """Fill START, EGG, COMPLETE, HATCH and END of an attempt."""
    if row[c.LAID] == 0 and row[c.PHASE] == c.BUILDING:
        row[c.START] = row[c.FIRST_DAY]
        _settle_end(row, limits)
        return
    lay = limit(limits, row, c.LAY_DAYS)
    sitting = (limit(limits, row, c.INCUBATION_LEAST) + limit(limits, row, c.INCUBATION_MOST)) // 2
    clutch = max(row[c.EGGS_MAX], row[c.YOUNG_MAX] + max(row[c.EGGS_LEFT], 0))
    if clutch < 1 or (row[c.PHASE] == c.EGGS and row[c.STABLE] == 0):
        clutch = max(clutch, limit(limits, row, c.CLUTCH_USUAL))
    laying = (clutch - 1) * lay

    if row[c.PHASE] == c.YOUNG:
        earliest = min(max(row[c.HATCH_LO], earliest_hatch(row, limits)), row[c.HATCH_HI])
        hatch = (earliest + row[c.HATCH_HI]) // 2
        if row[c.AGES] > 0:
            hatch = row[c.YOUNG_DAY] + int(round(row[c.AGED_HATCH] / row[c.AGES]))
        row[c.HATCH] = min(max(hatch, earliest), row[c.HATCH_HI])

    # First egg: what the counts allow, then what hatching suggests within it.
    if row[c.EGG_DAY] != c.MISSING:
        latest = row[c.EGG_DAY] - (row[c.EGG_COUNT] - 1) * lay
    elif row[c.PHASE] == c.EGGS:
        # Only a sitting adult was seen: the clutch was complete by then.
        latest = row[c.FULL_DAY] - laying
    else:
        latest = row[c.FIRST_DAY]
    # Of two looks on one day, the one that saw no egg may have been the first.
    earliest_egg = c.MISSING
    if row[c.NO_EGG_DAY] != c.MISSING:
        earliest_egg = min(row[c.NO_EGG_DAY] + 1, _first_known(row))
    if laying_seen(row):
        earliest_egg = max(earliest_egg, latest - 2)
    if row[c.HATCH] != c.MISSING:
        latest = min(latest, row[c.HATCH] - 1)
        egg = row[c.HATCH] - sitting - laying
    elif earliest_egg != c.MISSING:
        egg = (earliest_egg + latest) // 2
    else:
        egg = latest
    latest = max(latest, earliest_egg)
    row[c.EGG] = min(max(egg, earliest_egg), latest)
    row[c.COMPLETE] = row[c.EGG] + laying
    if row[c.HATCH] != c.MISSING:
        row[c.COMPLETE] = min(row[c.COMPLETE], row[c.HATCH])
    row[c.START] = min(row[c.FIRST_DAY], row[c.EGG])
    _settle_end(row, limits)


@compiled
def _first_known(row: Any) -> int:
    """First day on which eggs, a parent sitting on them, or young were seen."""
    known = row[c.EGG_DAY] if row[c.EGG_DAY] != c.MISSING else row[c.FULL_DAY]
    if row[c.YOUNG_DAY] != c.MISSING and (known == c.MISSING or row[c.YOUNG_DAY] < known):
        known = row[c.YOUNG_DAY]
    return known


@compiled
def _settle_end(row: Any, limits: Any) -> None:
    if row[c.OVER_DAY] == c.MISSING:
        row[c.END] = row[c.LAPSES]
        return
    first, last = row[c.ALIVE_DAY], row[c.OVER_DAY]
    end = (first + last) // 2
    if row[c.FATE] == c.FATE_FLEDGED and row[c.HATCH] != c.MISSING:
        usual = (limit(limits, row, c.NESTLING_LEAVES) + limit(limits, row, c.NESTLING_MOST)) // 2
        end = row[c.HATCH] + usual
    elif row[c.WHY] == c.WHY_OVERDUE:
        end = last
    elif row[c.WHY] == c.WHY_COLD and row[c.COLD_RUN] > 0:
        end = row[c.COLD_DAY]
    row[c.END] = min(max(end, first), last)
