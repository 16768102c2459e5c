"""Nesting attempts for others to pool, and what was measured of each."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from layers.nesting import attempt_columns as c
from layers.nesting.dating import EVENTS, Dates
from layers.nesting.histories import Histories
from layers.publishing.identifiers import Identifiers
from layers.trail.coding import day_of


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
    histories: Histories,
    dates: Dates,
    identifiers: Identifiers,
    *,
    fates: Sequence[str],
    visit_ids: Mapping[int, str],
) -> Iterator[PooledAttempt]:
    """Every attempt in which eggs or young were counted.

    Parameters
    ----------
    fates
        A word for each attempt.
    visit_ids
        The ids of visits by row number.
    """
    nests = identifiers.nests(histories)
    order = np.argsort(histories.visit_attempt, kind="stable")
    starts = np.searchsorted(histories.visit_attempt[order], np.arange(len(histories) + 1))
    for attempt in np.flatnonzero(histories.rows[:, c.LAID] == 1).tolist():
        row = histories.rows[attempt]
        own = np.sort(order[starts[attempt] : starts[attempt + 1]])
        days = histories.visits.day[own]
        yield PooledAttempt(
            identifier=nests[attempt],
            box=histories.visits.boxes[row[c.BOX]],
            species=histories.species_name(int(row[c.SPECIES])),
            fate=fates[attempt],
            first_seen=day_of(int(days.min())).isoformat(),
            last_seen=day_of(int(days.max())).isoformat(),
            visit_ids=tuple(visit_ids[row] for row in histories.visits.row[own].tolist()),
            measured=tuple(_measured(histories, dates, attempt)),
        )


def counts_of(
    eggs_max: int | None, young_max: int | None, fledged: int | None
) -> Iterator[Measured]:
    """What was counted in a nest; None = not counted, or not published."""
    for kind, count in (
        ("clutch size (most eggs counted)", eggs_max),
        ("brood size (most living young counted)", young_max),
        ("young fledged (last late count less the dead)", fledged),
    ):
        if count is not None:
            yield Measured(kind, str(count), "individuals", "counted at visits")


def _measured(histories: Histories, dates: Dates, attempt: int) -> Iterator[Measured]:
    counts = histories.rows[attempt, [c.EGGS_MAX, c.YOUNG_MAX, c.FLEDGED]].tolist()
    yield from counts_of(*(count if count >= 0 else None for count in counts))
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
