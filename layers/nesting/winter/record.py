"""What the visits of all seasons show of each box, gathered once for every rule."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layers.nesting import attempt_columns as c
from layers.nesting.dating import date_attempts
from layers.nesting.histories import Histories
from layers.trail.coding import day_number


@dataclass(frozen=True)
class Neighbour:
    """Another box nearby, by straight line."""

    box: str
    distance_m: float


@dataclass(frozen=True)
class BoxRecord:
    """One box over the seasons.

    Attributes
    ----------
    facts
        The columns of its row in the trail; None where nothing is recorded.
    looked_into
        Seasons in which it was checked, oldest first.
    laid
        Season -> the species that laid in it (None = not recorded), one each attempt.
    attempts, visits
        Positions in `Histories.rows` and in `Visits`, oldest first.
    """

    box: str
    facts: Mapping[str, Any]
    looked_into: tuple[int, ...]
    laid: Mapping[int, tuple[str | None, ...]]
    attempts: range
    visits: range
    neighbours: tuple[Neighbour, ...]

    @property
    def unused_seasons(self) -> tuple[int, ...]:
        """The latest seasons in which it was checked and held no egg, oldest first."""
        unused: list[int] = []
        for season in reversed(self.looked_into):
            if season in self.laid:
                break
            unused.insert(0, season)
        return tuple(unused)

    @property
    def unguarded(self) -> bool | None:
        """Whether it has no guard; None = not recorded."""
        guards = self.facts.get("guards")
        return None if guards is None else not guards.strip()


@dataclass(frozen=True)
class TrailRecord:
    """Every box that stands, and the day from which the record is looked at.

    Attributes
    ----------
    may_live
        Which attempts may not be over, one each of `histories`: those still going on, and
        those whose box stays closed on that day.
    """

    histories: Histories
    fate: NDArray[np.int32]
    may_live: NDArray[np.bool_]
    boxes: Mapping[str, BoxRecord]
    on: date
    season: int

    @property
    def day(self) -> int:
        return day_number(self.on)

    def species(self) -> dict[str, set[str]]:
        """Species of the guide that laid on this trail -> the boxes they laid in."""
        found: dict[str, set[str]] = {}
        for record in self.boxes.values():
            for names in record.laid.values():
                for name in names:
                    if name is not None and self.histories.guide.get(name) is not None:
                        found.setdefault(name, set()).add(record.box)
        return found


def trail_record(
    histories: Histories,
    *,
    boxes: Sequence[Mapping[str, Any]],
    neighbours: Mapping[str, Sequence[Neighbour]],
    on: date,
    season: int,
) -> TrailRecord:
    """The record of the boxes given; no visit of `histories` is later than `on`."""
    looked = histories.observations["looked"]
    seasons = histories.observations["season"]
    records = {}
    for facts in boxes:
        box = facts["box"]
        visits, attempts = histories.visits_of(box), histories.attempts_of(box)
        inside = slice(visits.start, visits.stop)
        laid: dict[int, tuple[str | None, ...]] = {}
        for attempt in attempts:
            row = histories.rows[attempt]
            if row[c.LAID] == 1:
                name = histories.species_name(int(row[c.SPECIES]))
                laid[int(row[c.SEASON])] = (*laid.get(int(row[c.SEASON]), ()), name)
        records[box] = BoxRecord(
            box=box,
            facts=facts,
            looked_into=tuple(np.unique(seasons[inside][looked[inside]]).tolist()),
            laid=laid,
            attempts=attempts,
            visits=visits,
            neighbours=tuple(neighbours.get(box, ())),
        )
    fate = histories.fates(on)
    return TrailRecord(histories, fate, _may_live(histories, fate, on), records, on, season)


def _may_live(histories: Histories, fate: NDArray[np.int32], on: date) -> NDArray[np.bool_]:
    """Attempts that are going on, or whose box stays closed: young may be there yet."""
    may_live: NDArray[np.bool_] = fate == c.ONGOING
    first, last = date_attempts(histories).closed.T
    closed: NDArray[np.bool_] = (first <= day_number(on)) & (day_number(on) <= last)
    return may_live | closed
