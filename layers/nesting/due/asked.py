"""What the rules of the due list look at: one box on one day, and what a keeper sets."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from layers.nesting import attempt_columns as c
from layers.nesting.dating import AttemptDates, Dates
from layers.nesting.histories import Histories
from layers.trail.coding import day_number
from layers.trail.settings import Settings, season_of


@dataclass(frozen=True)
class Rules:
    """What a keeper sets for herself.

    Attributes
    ----------
    not_on_hatch_days
        Whether boxes are left alone on the days on which hatching is expected.
    fate_within_days
        Days after fledging within which signs still tell how a nest ended (common
        practice, no source).
    age_within_days
        Age up to which the age of young is well judged (common practice, no source).
    """

    not_on_hatch_days: bool = False
    fate_within_days: int = 7
    age_within_days: int = 8


STANDARD_RULES = Rules()


@dataclass(frozen=True)
class Asked:
    """All that the rules look at, for every box. No visit is later than `on`."""

    histories: Histories
    dates: Dates
    on: date
    settings: Settings
    rules: Rules
    guards: Mapping[str, str | None]

    @property
    def day(self) -> int:
        return day_number(self.on)


@dataclass(frozen=True)
class Nest:
    """The attempt that matters in a box.

    Attributes
    ----------
    attempt
        Position in `Histories.rows`; `row` is its row.
    ongoing
        Nobody has found it over.
    under_way
        Nor has it lasted longer than a nest can since somebody looked.
    """

    attempt: int
    row: NDArray[np.int32]
    dates: AttemptDates
    how: int
    ongoing: bool
    under_way: bool


@dataclass(frozen=True)
class AskedBox:
    """One box on the day; `nest` is its last attempt of the season, or one still under way."""

    asked: Asked
    box: str
    nest: Nest | None
    last_visit: int | None

    @property
    def under_way(self) -> Nest | None:
        """The nest, if one is under way."""
        return self.nest if self.nest is not None and self.nest.under_way else None


def asked_box(asked: Asked, box: str) -> AskedBox:
    """What the rules need to know of one box."""
    histories = asked.histories
    this_season = season_of(asked.on, asked.settings.season_starts)
    visits = [i for i in histories.visits_of(box) if histories.seen["season"][i] == this_season]
    return AskedBox(asked, box, _nest(asked, box, this_season), visits[-1] if visits else None)


def _nest(asked: Asked, box: str, this_season: int) -> Nest | None:
    attempts = asked.histories.attempts_of(box)
    if not attempts:
        return None
    attempt = attempts[-1]
    row = asked.histories.rows[attempt]
    ongoing = bool(row[c.FATE] == c.ONGOING)
    under_way = ongoing and bool(asked.day < row[c.LAPSES])
    if row[c.SEASON] != this_season and not under_way:
        return None
    return Nest(
        attempt, row, asked.dates.of(attempt), int(asked.dates.how[attempt]), ongoing, under_way
    )
