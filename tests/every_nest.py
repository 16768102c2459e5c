"""Every nest with its days by `dating`, to compare what is printed of it with."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from layers.nesting import attempt_columns as c
from layers.nesting.dating import EVENTS, AttemptDates, Dated, Dates, stage_days
from layers.nesting.dating.stages import EGG, END
from layers.nesting.forecast import Forecast, forecast
from layers.nesting.histories import Histories
from layers.trail.coding import day_number, day_of


@dataclass(frozen=True)
class Nest:
    """One attempt with its days, and the days on which its box was visited."""

    box: str
    season: int
    number: int
    row: NDArray[np.int32]
    dates: AttemptDates
    ongoing: bool
    next_egg: Dated | None
    visits: frozenset[dt.date]
    comes: Mapping[str, Forecast]
    begins: int
    egg: int
    ends: int

    @property
    def events(self) -> dict[str, Dated | None]:
        of = self.dates
        return dict(
            zip(EVENTS, (of.first_egg, of.complete, of.hatch, of.fledge, of.loss), strict=True)
        )

    @property
    def laid(self) -> bool:
        return bool(self.row[c.PHASE] >= c.EGGS)

    @property
    def lapses(self) -> dt.date:
        return day_of(self.row[c.LAPSES])

    @property
    def hatched(self) -> bool:
        """Whether young were seen, or are known to have left."""
        return bool(self.row[c.PHASE] == c.YOUNG or self.row[c.FATE] == c.FATE_FLEDGED)

    def best(self, event: str) -> int | None:
        dated = self.events[event]
        return None if dated is None else day_number(dated.best)

    def stage(self, day: int) -> str | None:
        """By the best days; None where the nest was not dated."""
        egg, complete = self.best("first egg"), self.best("clutch complete")
        if egg is None or complete is None:
            return None
        hatch = self.best("hatching") if self.hatched else None
        if day >= self.ends and not self.ongoing:
            return "over"
        if hatch is not None and day >= hatch:
            return "nestlings"
        return "building" if day < egg else "laying" if day < complete else "incubating"


def all_nests(histories: Histories, dates: Dates, *, on: dt.date) -> dict[str, list[Nest]]:
    """Every attempt of every box, in order; `histories` and `dates` as they are known on a day."""
    found: dict[str, list[Nest]] = {box: [] for box in histories.visits.boxes}
    fates = histories.fates(on)
    fallback = stage_days(histories, dates)
    for a in range(len(histories)):
        row, of = histories.rows[a], dates.of(a)
        box = histories.visits.boxes[row[c.BOX]]
        own = histories.visits_of(box)
        ongoing = bool(fates[a] == c.ONGOING)
        nest = Nest(
            box=box,
            season=int(row[c.SEASON]),
            number=int(histories.numbers[a]),
            row=row,
            dates=of,
            ongoing=ongoing,
            next_egg=dates.of(a + 1).first_egg if a + 1 in histories.attempts_of(box) else None,
            visits=frozenset(day_of(day) for day in histories.visits.day[own.start : own.stop]),
            comes={one.kind: one for one in forecast(histories, dates, a, on=on)},
            begins=int(row[c.FIRST_DAY]),
            egg=int(fallback[a, EGG]),
            ends=int(row[c.LAPSES]) if ongoing else _end(histories, of, a, int(fallback[a, END])),
        )
        egg = nest.best("first egg")
        if egg is not None:
            nest = replace(nest, egg=egg, begins=min(nest.begins, egg))
        found[box].append(nest)
    return found


def _end(histories: Histories, of: AttemptDates, attempt: int, undated: int) -> int:
    """The day of fledging or loss of a nest that is over; of an undated one, what is seen."""
    row = histories.rows[attempt]
    fate = row[c.LATER_FATE] if row[c.FATE] == c.ONGOING else row[c.FATE]
    left = fate == c.FATE_FLEDGED or (fate == c.FATE_UNKNOWN and (of.fledged or 0.0) >= 0.5)
    dated = of.fledge if left else of.loss
    if row[c.OVER_DAY] == c.MISSING and fate != c.FATE_FLEDGED:
        return int(row[c.LAPSES])
    return undated if dated is None else day_number(dated.best)


def nest_due(nests: Sequence[Nest], on: dt.date) -> Nest | None:
    """The one that the due list of a day is about: the last of the season, or under way."""
    if not nests or (nests[-1].season != on.year and not nests[-1].ongoing):
        return None
    return nests[-1]
