"""What to mind before opening a box: from its state, never a permission."""

from __future__ import annotations

from datetime import date

from layers.nesting import attempt_columns as c
from layers.nesting.histories import Histories
from layers.trail.coding import day_number

ALWAYS = (
    "Not in cold, wet or very windy weather, nor in the first hours of the morning while "
    "eggs are being laid; be quick and close the box well (common practice, no source).",
    "Nests in use are protected in most places and handling or marking birds needs a "
    "permit: keep to your local law and licence.",
)
"""Holds at every box; pages show it once."""

# Premature fledging: field practice only, no agency or paper found; for bluebirds
# days 12 to 13, for others the guide's figure.
_CLOSED = (
    "Young are about {age} days old: from about day {closed} on they may leave too early if "
    "the box is opened. Look from a distance."
)
# CDC, Hantavirus pulmonary syndrome: clean up (2008).
_MOUSE = (
    "A mouse has used this box. Rodent dust can carry disease: do not sweep it out dry; air it, "
    "wear gloves, wet it with disinfectant, wait five minutes, and keep your face upwind."
)
_WASPS = "Wasps or ants were seen here: open it from the side and step back if they stir."
_SNAKE = "A snake has been at this box: look before you reach in."


def box_cautions(histories: Histories, box: str, *, on: date) -> list[str]:
    """Cautions that a box's own history calls for on a day; may be empty."""
    today = day_number(on)
    found = []
    for attempt in histories.attempts_of(box):
        row = histories.rows[attempt]
        if row[c.HATCH] != c.MISSING and row[c.HATCH] <= today < row[c.END]:
            closed = closed_from_day(histories, attempt)
            age = today - int(row[c.HATCH])
            if closed is not None and age >= closed:
                found.append(_CLOSED.format(age=age, closed=closed))
    season = [i for i in histories.visits_of(box) if 0 <= today - histories.visits.day[i] <= 60]
    signs = 0
    for i in season:
        signs |= int(histories.visits.signs[i])
    for words, text in (("mouse", _MOUSE), ("wasps", _WASPS), ("ants", _WASPS), ("snake", _SNAKE)):
        if signs & c.sign_bits(words) and text not in found:
            found.append(text)
    return found


def closed_from_day(histories: Histories, attempt: int) -> int | None:
    """Age in days from which an attempt's box stays closed; None where young leave at once."""
    name = histories.species_name(int(histories.rows[attempt, c.SPECIES]))
    species = (histories.guide.get(name) if name else None) or histories.guide.unknown
    return None if species.closed_from_day is None else int(species.closed_from_day.low)
