"""How to look into a box on a day without harm to a nest."""

from __future__ import annotations

from layers.nesting import attempt_columns as c
from layers.nesting.coming import closed_days, said_days
from layers.nesting.dating import CANNOT_BE_DATED
from layers.nesting.due.asked import AskedBox

OPEN, FROM_AFAR, DO_NOT_VISIT = "open", "look from a distance", "do not visit"
LOOKS = (OPEN, FROM_AFAR, DO_NOT_VISIT)
"""How to look into a box, from the boldest to the most careful."""


def how_to_look(one: AskedBox) -> tuple[str, str]:
    """One of `LOOKS`, and why in a sentence; no sentence where nothing speaks against opening."""
    asked, nest = one.asked, one.nest
    if one.last_visit is not None and asked.histories.seen["closed"][one.last_visit]:
        return DO_NOT_VISIT, "The keeper has closed this box."
    if nest is None or not nest.ongoing:
        return OPEN, ""
    closed = closed_days(asked.histories, asked.dates, nest.attempt)
    if closed is not None and closed[0] <= asked.on <= closed[1]:
        said = f"Closed days {said_days(*closed)}: young may leave too early if it is opened."
        return FROM_AFAR, said
    if nest.how == CANNOT_BE_DATED and nest.under_way and nest.row[c.PHASE] == c.YOUNG:
        return FROM_AFAR, "There are young whose age cannot be told: they may leave too early."
    hatch = nest.dates.hatch
    if asked.rules.not_on_hatch_days and hatch is not None and nest.row[c.PHASE] == c.EGGS:
        first, last = hatch.days_80
        if first <= asked.on <= last:
            return DO_NOT_VISIT, f"Hatching is expected {said_days(first, last)}."
    return OPEN, ""
