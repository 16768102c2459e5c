"""What the rules of the due list look at: one box on one day."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from layers.nesting import attempt_columns as c
from layers.nesting.dating import AttemptDates, Dates
from layers.nesting.forecast import species_of
from layers.nesting.guide import Species
from layers.nesting.histories import Histories
from layers.trail.coding import day_number
from layers.trail.settings import Settings, season_of


@dataclass(frozen=True)
class DueInputs:
    """All that the rules look at, for every box. No visit is later than `on`."""

    histories: Histories
    dates: Dates
    on: date
    settings: Settings
    guards: Mapping[str, str | None]

    @property
    def day(self) -> int:
        return day_number(self.on)

    @cached_property
    def season(self) -> int:
        return season_of(self.on, self.settings.season_starts)


@dataclass(frozen=True)
class Nest:
    """The attempt that matters in a box.

    Attributes
    ----------
    attempt
        Position in `Histories.rows`; `row` is its row.
    ongoing
        It was not found over.
    under_way
        Nor has it lasted longer than a nest can since the last look.
    """

    inputs: DueInputs
    attempt: int
    row: NDArray[np.int32]
    ongoing: bool
    under_way: bool

    @property
    def species(self) -> Species:
        """The guide's species; the wide one where it is not recorded."""
        return species_of(self.inputs.histories, self.attempt)

    @cached_property
    def dates(self) -> AttemptDates:
        return self.inputs.dates.of(self.attempt)

    @property
    def closed(self) -> tuple[date, date] | None:
        """First and last day on which the box stays closed; None = there is none."""
        return self.dates.closed


@dataclass(frozen=True)
class BoxInputs:
    """One box on the day; each rule looks at some of it."""

    inputs: DueInputs
    box: str

    @cached_property
    def _own(self) -> range:
        return self.inputs.histories.visits_of(self.box)

    @cached_property
    def last_visit(self) -> int | None:
        """Position in `Histories.visits` of the season's last visit; None = there was none."""
        if not self._own:
            return None
        last = self._own[-1]
        of_season = self.inputs.histories.observations[last]["season"] == self.inputs.season
        return last if of_season else None

    @cached_property
    def last_look(self) -> int | None:
        """As `last_visit`, of the last at which the inside was seen."""
        seen = self.inputs.histories.observations[self._own.start : self._own.stop]
        looks = ((seen["season"] == self.inputs.season) & seen["looked"]).nonzero()[0]
        return self._own[int(looks[-1])] if len(looks) else None

    @cached_property
    def nest(self) -> Nest | None:
        """The last attempt, if it is of the season or still under way."""
        attempts = self.inputs.histories.attempts_of(self.box)
        if not attempts:
            return None
        attempt = attempts[-1]
        row = self.inputs.histories.rows[attempt]
        ongoing = bool(row[c.FATE] == c.ONGOING)
        under_way = ongoing and bool(self.inputs.day < row[c.LAPSES])
        if row[c.SEASON] != self.inputs.season and not under_way:
            return None
        return Nest(self.inputs, attempt, row, ongoing, under_way)

    @cached_property
    def unconfirmed(self) -> Nest | None:
        """The nest found over by the last look inside, which may be wrong; None = there is none."""
        attempts = self.inputs.histories.attempts_of(self.box)
        # That look may have opened a nest of its own.
        for attempt in reversed(attempts[-2:]):
            if self.inputs.dates.goes_on[attempt] > 0:
                return Nest(
                    self.inputs, attempt, self.inputs.histories.rows[attempt],
                    ongoing=False, under_way=False,
                )  # fmt: skip
        return None

    @property
    def under_way(self) -> Nest | None:
        """The nest, if one is under way."""
        return self.nest if self.nest is not None and self.nest.under_way else None
