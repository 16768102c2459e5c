"""What a keeper may expect inside a box on a day, in a sentence."""

from __future__ import annotations

from layers.nesting import attempt_columns as c
from layers.nesting.dating import final_fates
from layers.nesting.due.inputs import BoxInputs, Nest
from layers.trail.coding import day_number
from layers.trail.words import FATES, NEST
from layers.words import format_age, format_count, format_day, format_days


def expected_inside(one: BoxInputs) -> str:
    """What is expected inside, by the best days of the box's nest; else what was seen last."""
    nest = one.nest
    if nest is None:
        return _without_nest(one)
    if not nest.ongoing:
        among = slice(nest.attempt, nest.attempt + 1)
        (code,) = final_fates(one.inputs.histories, one.inputs.dates, among=among)
        fate = FATES[code]
        end = "how it ended is not known" if fate == "unknown" else fate
        return f"A nest found over on {format_day(nest.row[c.OVER_DAY])}: {end}."
    if not nest.under_way:
        return "A nest that must be over by now; its outcome is unknown."
    species = one.inputs.histories.species_name(int(nest.row[c.SPECIES]))
    record = _under_way(one, nest)
    return record if species is None else f"{species.capitalize()}: {record}"


def _without_nest(one: BoxInputs) -> str:
    if one.last_visit is None:
        return "Not known: no visit this season."
    visits = one.inputs.histories.visits
    day = format_day(int(visits.day[one.last_visit]))
    if visits.nest[one.last_visit] == NEST.index("none"):
        return f"No nest when last seen, on {day}."
    return f"No nest is known of; last visit on {day}."


def _under_way(one: BoxInputs, nest: Nest) -> str:
    on, found = one.inputs.on, nest.dates
    if found.first_egg is None or found.complete is None:
        what = {c.EGGS: "eggs", c.YOUNG: "young"}.get(int(nest.row[c.PHASE]), "nest material")
        return f"{what} when last seen, on {format_day(nest.row[c.ALIVE_DAY])}."
    if found.hatch is None or (found.hatched or 0.0) < 0.5:
        return "eggs that will probably not hatch."
    if on < found.hatch.best:
        most = int(nest.row[c.EGGS_MAX])
        eggs = format_count(most, "egg", "eggs") if most > 0 else "eggs"
        more = " or more, laying may go on" if on < found.complete.best else ""
        return f"{eggs}{more}; hatching expected {format_days(*found.hatch.days_80)}."
    if found.fledge is None or on < found.fledge.best:
        age = day_number(on) - day_number(found.hatch.best)
        return f"if all is well, young {format_age(age)}."
    return f"if all is well, empty: fledging expected {format_days(*found.fledge.days_80)}."
