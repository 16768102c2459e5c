"""The days of one box's nests as plain records: when each event was or will be, what
comes next, and a picture of both.

One box is read and dated by itself, which takes a millisecond, so that its card waits
for no other box.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layers.nesting import attempt_columns as c
from layers.nesting.coming import (
    BANDING,
    CHECK,
    CLOSED,
    CLUTCH_COMPLETE,
    MEMORY_NOTE,
    Coming,
    coming,
    species_of,
)
from layers.nesting.dating import (
    EVENTS,
    AttemptDates,
    Dated,
    Dates,
    date_attempts,
    disagreement,
    explained,
)
from layers.nesting.guide import Species
from layers.nesting.histories import Histories, read_histories
from layers.nesting.nests import begun
from layers.nesting.pictures import picture
from layers.trail.coding import day_number
from layers.words import format_days

# A chance smaller than this is not worth a line.
_LEAST_CHANCE = 0.02

_FIGURES = (
    ("clutch", "clutch size"),
    ("laying_interval_days", "days between eggs"),
    ("incubation_days", "incubation days"),
    ("nestling_days", "nestling days"),
    ("closed_from_day", "age from which the box stays closed"),
)


class BoxDays:
    """One box alone, dated twice where visits came after the day to look from.

    A nest that is over is told from all visits; one under way on that day from those up
    to it, as its keeper knew it.
    """

    def __init__(self, histories: Histories, box: str, *, on: date) -> None:
        self.on = on
        own = histories.visits_of(box)
        self.all = _read(histories, box, np.arange(own.start, own.stop))
        self.all_dates = date_attempts(self.all)
        up_to = own.start + int(
            np.searchsorted(histories.visits.day[own.start : own.stop], day_number(on), "right")
        )
        self.known, self.known_dates = self.all, self.all_dates
        if up_to < own.stop:
            self.known = _read(histories, box, np.arange(own.start, up_to))
            self.known_dates = date_attempts(self.known)

    def records(self, bars: Sequence[list[dict[str, str]]]) -> list[dict[str, Any]]:
        """One record for each attempt begun by the day, in their order.

        Parameters
        ----------
        bars
            The stages of each, as `nests.stage_bar` gives them.

        Returns
        -------
        list of dict
            `known_on`: the day up to which visits were used, None = all. `days`: a record
            for each dated event. `coming`: a record for each thing to come. `contradiction`:
            a sentence, or None. `date_reasons`: sentences. `memory`: the guide's figures behind it
            that are from memory. `picture`: see `pictures.picture`. Days are ISO text.
        """
        attempts = begun(self.all, on=self.on)
        fates = self.all.fates(self.on)
        return [
            self._under_way(attempt, bar)
            if fates[attempt] == c.ONGOING
            else self._over(attempt, bar)
            for attempt, bar in zip(attempts, bars, strict=True)
        ]

    def _over(self, attempt: int, bar: list[dict[str, str]]) -> dict[str, Any]:
        return _record(self.all, self.all_dates, attempt, bar=bar)

    def _under_way(self, attempt: int, bar: list[dict[str, str]]) -> dict[str, Any]:
        # Visits are in order of time, so the first visit of a nest keeps its position.
        first = self.all.rows[attempt, c.FIRST]
        (same,) = np.nonzero(self.known.rows[:, c.FIRST] == first)
        if len(same) == 0:
            return _nothing_known(bar, on=self.on)
        return _record(self.known, self.known_dates, int(same[0]), bar=bar, on=self.on)


def _read(histories: Histories, box: str, positions: NDArray[np.intp]) -> Histories:
    """One box's histories, from some of its visits."""
    visits = histories.visits.take(positions)
    alone = visits.recoded(
        box_code=0,
        boxes=(box,),
        species_names=visits.species_names,
        observers=visits.observers,
    )
    return read_histories(alone, histories.guide, season_starts=histories.season_starts)


def _nothing_known(bar: list[dict[str, str]], *, on: date) -> dict[str, Any]:
    return {
        "known_on": on.isoformat(),
        "days": [],
        "coming": [],
        "contradiction": None,
        "date_reasons": ["Nobody had seen this nest by that day."],
        "memory": [],
        "picture": picture(bar, [], []),
    }


def _record(
    histories: Histories,
    dates: Dates,
    attempt: int,
    *,
    bar: list[dict[str, str]],
    on: date | None = None,
) -> dict[str, Any]:
    found = dates.of(attempt)
    days = [_event(*event) for event in _events(found, ongoing=on is not None)]
    to_come = [] if on is None else coming(histories, dates, attempt, on=on)
    told = [_coming(one) for one in to_come]
    odd = disagreement(histories, dates, attempt)
    why = [_sentence(text) for text in explained(histories, dates, attempt)]
    return {
        "known_on": None if on is None else on.isoformat(),
        "days": days,
        "coming": told,
        "contradiction": None if odd is None else _sentence(odd.what),
        "date_reasons": why,
        "memory": _from_memory(species_of(histories, attempt)) if days else [],
        "picture": picture(bar, days, [one for one in told if one["kind"] in _WINDOWS]),
    }


_WINDOWS = (BANDING, CLOSED, CHECK)


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}."


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


def _coming(one: Coming) -> dict[str, Any]:
    told: dict[str, Any] = asdict(one)
    for name in ("first", "last", "best"):
        told[name] = None if told[name] is None else told[name].isoformat()
    return told | {
        "chance": round(one.chance, 3),
        "goes_on": round(one.goes_on, 3),
        "sources": list(one.sources),
        "text": _with_chance(one),
    }


def _with_chance(one: Coming) -> str:
    """What is said of a thing to come, with the chance that the nest comes to it at all.

    What rests on memory is told once for the nest (`memory`), not with each.
    """
    said = one.text.removesuffix(f" {MEMORY_NOTE}")
    if one.memory:
        said += " (From memory.)"
    if one.kind == CLUTCH_COMPLETE or one.goes_on > 1 - _LEAST_CHANCE:
        return said
    return f"{said} Chance that the nest comes to it: {one.goes_on:.0%}."


def _from_memory(species: Species) -> list[str]:
    """The guide's figures behind the days that rest on memory alone."""
    found = []
    for name, said in _FIGURES:
        span = getattr(species, name)
        if span is not None and span.memory:
            found.append(said)
    return found
