"""Nesting attempts for others to pool: identifiers that last, and what was measured.

An identifier is made from the trail's own and from the first visit that found the nest, or from
the id of the box: to hide a box, or to add a visit, changes that of no other. A visit that was
corrected counts under the id of the row first entered.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from layers.nesting import attempt_columns as c
from layers.nesting.dating import EVENTS, Dates
from layers.nesting.histories import Histories
from layers.trail.coding import day_of

_NAMESPACE = uuid.UUID("2d0e5f0c-7a43-5b0e-8a35-5d5b2f0f6c11")

StoredVisit = tuple[int, str, str | None]
"""A visit's row number, its id, and the id of the row that it corrects."""


@dataclass(frozen=True)
class Identifiers:
    """Global identifiers of a trail, its boxes and its visits' first entries.

    By row number, `own_id` has a visit's id, and `first_entry` that under which it was first
    entered.
    """

    trail: uuid.UUID
    first_entry: Mapping[int, str]
    own_id: Mapping[int, str]

    @classmethod
    def of(cls, stored: Sequence[StoredVisit]) -> Identifiers:
        """From all rows of the visits' table, corrected ones too; the first one entered names the
        trail.
        """
        corrects = {visit: replaces for _, visit, replaces in stored if replaces}
        entries: dict[int, str] = {}
        for row, visit, _ in sorted(stored):
            first, passed = visit, {visit}
            while first in corrects and corrects[first] not in passed:
                first = corrects[first]
                passed.add(first)
            entries[row] = first
        name = next(iter(entries.values()), "no visit yet")
        own = {row: visit for row, visit, _ in stored}
        return cls(uuid.uuid5(_NAMESPACE, f"trail {name}"), entries, own)

    def box(self, box: str) -> str:
        """Of a box, by the id painted on it."""
        return str(uuid.uuid5(self.trail, f"box {box}"))

    def nest(self, histories: Histories, attempt: int) -> str:
        """Of an attempt, by the first visit that found it."""
        row = int(histories.visits.row[histories.rows[attempt, c.FIRST]])
        return str(uuid.uuid5(self.trail, f"nest {self.first_entry[row]}"))


@dataclass(frozen=True)
class Measured:
    """One number or day of an attempt; `method` says how it was worked out."""

    kind: str
    value: str
    unit: str | None
    method: str


@dataclass(frozen=True)
class PooledAttempt:
    """One attempt with eggs or young.

    Attributes
    ----------
    first_seen, last_seen
        ISO days of the first and last visit that belong to it.
    visit_ids
        Ids of these visits.
    """

    identifier: str
    box: str
    species: str | None
    fate: str
    first_seen: str
    last_seen: str
    visit_ids: tuple[str, ...]
    measured: tuple[Measured, ...]


def pooled_attempts(
    histories: Histories, dates: Dates, identifiers: Identifiers, fates: Sequence[str]
) -> Iterator[PooledAttempt]:
    """Every attempt in which eggs or young were counted; `fates` has a word for each attempt."""
    order = np.argsort(histories.visit_attempt, kind="stable")
    starts = np.searchsorted(histories.visit_attempt[order], np.arange(len(histories) + 1))
    for attempt in np.flatnonzero(histories.rows[:, c.LAID] == 1).tolist():
        row = histories.rows[attempt]
        own = np.sort(order[starts[attempt] : starts[attempt + 1]])
        days = histories.visits.day[own]
        yield PooledAttempt(
            identifier=identifiers.nest(histories, attempt),
            box=histories.visits.boxes[row[c.BOX]],
            species=histories.species_name(int(row[c.SPECIES])),
            fate=fates[attempt],
            first_seen=day_of(int(days.min())).isoformat(),
            last_seen=day_of(int(days.max())).isoformat(),
            visit_ids=tuple(identifiers.own_id[row] for row in histories.visits.row[own].tolist()),
            measured=tuple(_measured(histories, dates, attempt)),
        )


def _measured(histories: Histories, dates: Dates, attempt: int) -> Iterator[Measured]:
    row, counted = histories.rows[attempt], "counted at visits"
    for kind, column in (
        ("clutch size (most eggs counted)", c.EGGS_MAX),
        ("brood size (most living young counted)", c.YOUNG_MAX),
        ("young fledged (last late count less the dead)", c.FLEDGED),
    ):
        if row[column] >= 0:
            yield Measured(kind, str(int(row[column])), "individuals", counted)
    found = dates.of(attempt)
    days = (found.first_egg, found.complete, found.hatch, found.fledge, found.loss)
    lost = None if found.fledged is None else 1 - found.fledged
    likely = {"fledging": found.fledged, "loss": lost}
    for event, dated in zip(EVENTS, days, strict=True):
        chance = likely.get(event)
        if dated is None or (chance is not None and chance < 0.5):
            continue
        first, last = (day.isoformat() for day in dated.days_95)
        method = f"likelihood of all courses that the visits allow; 95 % interval {first}/{last}"
        yield Measured(f"day of {event}", dated.best.isoformat(), None, method)
