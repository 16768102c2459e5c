"""How to approach a box on a day without harm to a nest."""

from __future__ import annotations

import math
from datetime import date

from layers.nesting import attempt_columns as c
from layers.nesting.dating import CANNOT_BE_DATED
from layers.nesting.due.inputs import BoxInputs, Nest
from layers.nesting.forecast import memory_mark
from layers.nesting.guide import Species
from layers.trail.coding import day_number
from layers.trail.settings import season_days
from layers.words import format_day, format_days

OPEN, WATCH, LEAVE = "open", "watch from a distance; do not open", "leave"
APPROACHES = (OPEN, WATCH, LEAVE)
"""How to approach a box, from the boldest to the most careful."""


def how_to_approach(one: BoxInputs) -> tuple[str, str]:
    """One of `APPROACHES`, and why, or what to mind first, in a sentence; no sentence where
    nothing speaks against opening.
    """
    inputs, nest = one.inputs, one.nest
    if one.last_visit is not None and inputs.histories.observations["closed"][one.last_visit]:
        return LEAVE, "The keeper has closed this box."
    for known in (nest, one.unconfirmed):
        if known is not None and known.closed is not None:
            first, last = known.closed
            if first <= inputs.on <= last:
                return WATCH, _closed(known, (first, last))
    if nest is None or not nest.ongoing:
        return OPEN, _watch_first(one)
    if nest.dates.how == CANNOT_BE_DATED and nest.under_way and _may_be_large(one, nest):
        return WATCH, "There may be young of unknown age: they may leave too early."
    if nest.closed is not None and inputs.on > nest.closed[1]:
        return OPEN, "Watch first: if an adult still carries food, do not open."
    dated = nest.under_way and nest.dates.first_egg is not None
    return OPEN, "" if dated else _watch_first(one)


def _closed(nest: Nest, days: tuple[date, date]) -> str:
    text = f"Do not open {format_days(*days)}: young may leave too early."
    if not nest.ongoing:
        over = format_day(nest.row[c.OVER_DAY])
        text = (
            f"Do not open {format_days(*days)} until a look from a distance shows that no adult "
            f"carries food: the visit of {over} found the nest over, and if that is wrong there "
            "may be large young."
        )
    return text + memory_mark(nest.species.closed_from_day)


def _may_be_large(one: BoxInputs, nest: Nest) -> bool:
    """Whether a nest that cannot be dated may hold young of an age to leave too early."""
    closed_from = nest.species.closed_from_day
    if closed_from is None:
        return False
    if nest.row[c.PHASE] == c.YOUNG:
        return True
    # Eggs seen without young hatched on the next day at the earliest.
    no_young = int(nest.row[c.NO_YOUNG_DAY])
    return no_young != c.MISSING and one.inputs.day > no_young + math.floor(closed_from.low)


def _watch_first(one: BoxInputs) -> str:
    """A word of care where the last look is so long ago that an unknown nest may
    hold young of an age to leave too early; else empty.
    """
    inputs = one.inputs
    histories, nest = inputs.histories, one.nest
    # The next nest may be any species'.
    species = nest.species if nest is not None and nest.ongoing else histories.guide.unknown
    least = _least_days(species)
    if one.last_look is None:
        first, _ = season_days(inputs.season, inputs.settings.season_starts)
        since, text = day_number(first), "Not opened this season"
    else:
        since = int(histories.visits.day[one.last_look])
        text = f"Not opened since {format_day(since)}"
    if least is None or inputs.day - since <= least:
        return ""
    return f"{text}: watch it from a distance first, there may be young of an age to jump."


def _least_days(species: Species) -> int | None:
    """Fewest days from the first egg until the box must stay closed; None = it need not."""
    if species.closed_from_day is None:
        return None
    eggs = math.floor(species.clutch_range.low)
    laying = (eggs - 1) * math.floor(species.laying_interval_days.low)
    sitting = math.floor(species.incubation_days.low)
    return laying + sitting + math.floor(species.closed_from_day.low)
