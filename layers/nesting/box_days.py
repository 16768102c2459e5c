"""The days of one box's nests as plain records: when each event was or will be, what
comes next, and a picture of both.

All is as known on one day: no visit after it counts.
"""

from __future__ import annotations

from dataclasses import asdict
from datetime import date
from typing import Any

from layers.nesting import attempt_columns as c
from layers.nesting.dating import (
    EVENTS,
    AttemptDates,
    Dated,
    Dates,
    contradiction,
    explained,
    stage_bar,
)
from layers.nesting.forecast import (
    BANDING,
    CHECK,
    CLOSED,
    CLUTCH_COMPLETE,
    MEMORY_NOTE,
    Forecast,
    forecast,
    species_of,
)
from layers.nesting.guide import Species
from layers.nesting.histories import Histories
from layers.nesting.nests import begun
from layers.nesting.pictures import picture
from layers.words import capitalise, format_days

# A chance smaller than this is not worth a line.
_LEAST_CHANCE = 0.02

_FIGURES = (
    ("clutch", "clutch size"),
    ("laying_interval_days", "days between eggs"),
    ("incubation_days", "incubation days"),
    ("nestling_days", "nestling days"),
    ("closed_from_day", "age from which the box stays closed"),
)


def days_records(histories: Histories, dates: Dates, *, on: date) -> list[dict[str, Any]]:
    """One record for each attempt known on a day, in their order.

    Parameters
    ----------
    histories, dates
        As known on the day (`dating.known_on`).

    Returns
    -------
    list of dict
        `bar`: its stages, as `dating.stage_bar` gives them. `known_on`: the day. `days`: a
        record for each dated event. `forecast`: a record for each thing to come.
        `contradiction`: a sentence, or None. `date_reasons`: sentences. `memory`: the guide's
        figures behind it that are from memory. `picture`: see `pictures.picture`. Days are
        ISO text.
    """
    return [_record(histories, dates, attempt, on=on) for attempt in begun(histories, on=on)]


def _record(histories: Histories, dates: Dates, attempt: int, *, on: date) -> dict[str, Any]:
    bar = stage_bar(histories, dates, attempt, on=on)
    (fate,) = histories.fates(on, among=slice(attempt, attempt + 1))
    ongoing = bool(fate == c.ONGOING)
    days = [_event(*event) for event in _events(dates.of(attempt), ongoing=ongoing)]
    to_come = [_forecast(one) for one in forecast(histories, dates, attempt, on=on)]
    odd = contradiction(histories, dates, attempt)
    return {
        "bar": bar,
        "known_on": on.isoformat(),
        "days": days,
        "forecast": to_come,
        "contradiction": None if odd is None else _sentence(odd),
        "date_reasons": [_sentence(text) for text in explained(histories, dates, attempt)],
        "memory": _from_memory(species_of(histories, attempt)) if days else [],
        "picture": picture(bar, days, [one for one in to_come if one["kind"] in _WINDOWS]),
    }


_WINDOWS = (BANDING, CLOSED, CHECK)


def _sentence(text: str) -> str:
    return f"{capitalise(text)}."


def _events(found: AttemptDates, *, ongoing: bool) -> list[tuple[str, Dated, float]]:
    """The dated events that are worth a line, each with its chance."""
    left = found.fledged or 0.0
    every = (
        (found.first_egg, 1.0),
        (found.complete, 1.0),
        (found.hatch, found.hatched or 0.0),
        (found.fledge, left),
        # While a nest goes on, a loss may come on any day.
        (None if ongoing else found.loss, 1.0 - left),
    )
    return [
        (event, dated, chance)
        for event, (dated, chance) in zip(EVENTS, every, strict=True)
        if dated is not None and chance > _LEAST_CHANCE
    ]


def _event(event: str, dated: Dated, chance: float) -> dict[str, Any]:
    return {
        "event": event,
        "best": dated.best.isoformat(),
        "within_80": [day.isoformat() for day in dated.days_80],
        "within_95": [day.isoformat() for day in dated.days_95],
        "chance": round(chance, 3),
        "event_label": _event_label(event, chance),
        "best_text": format_days(dated.best, dated.best),
        "interval_80": format_days(*dated.days_80),
        "interval_95": format_days(*dated.days_95),
    }


def _event_label(event: str, chance: float) -> str:
    """The event, with its chance where it is open whether it came to it."""
    if chance > 1 - _LEAST_CHANCE:
        return event.capitalize()
    return f"{event.capitalize()}, if it comes to it ({chance:.0%})"


def _forecast(one: Forecast) -> dict[str, Any]:
    record: dict[str, Any] = asdict(one)
    for name in ("first", "last", "best"):
        record[name] = None if record[name] is None else record[name].isoformat()
    return record | {
        "chance": round(one.chance, 3),
        "goes_on": round(one.goes_on, 3),
        "sources": list(one.sources),
        "text": _with_chance(one),
    }


def _with_chance(one: Forecast) -> str:
    """The sentence about a thing to come, with the chance that the nest comes to it at all.

    What rests on memory is listed once for the nest (`memory`), not with each.
    """
    text = one.text.removesuffix(f" {MEMORY_NOTE}")
    if one.memory:
        text += " (From memory.)"
    if one.kind == CLUTCH_COMPLETE or one.goes_on > 1 - _LEAST_CHANCE:
        return text
    return f"{text} Chance that the nest comes to it: {one.goes_on:.0%}."


def _from_memory(species: Species) -> list[str]:
    """The guide's figures behind the days that rest on memory alone."""
    found = []
    for name, text in _FIGURES:
        span = getattr(species, name)
        if span is not None and span.memory:
            found.append(text)
    return found
