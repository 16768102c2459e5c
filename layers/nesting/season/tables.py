"""The one table that feeds every measure of a season."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from layers.nesting import attempt_columns as c
from layers.nesting.dating.terms import FIRST_EGG, HATCH
from layers.nesting.season.broods import BroodCounts
from layers.nesting.season.course_likelihood import CourseLikelihood
from layers.nesting.season.courses import Courses
from layers.nesting.season.intervals import Intervals
from layers.trail.words import CAUSES


@dataclass(frozen=True)
class SeasonTable:
    """Attempts of the chosen seasons and species, and the days over which they were watched.

    Attributes
    ----------
    boxes, species_names
        What the codes in `rows` stand for.
    attempt
        Position of each attempt in `Histories.rows`; shape (attempts,) as all below.
    rows
        The attempts' columns, by the names in `attempt_columns`.
    number
        Number of the attempt in its box and season, from 1.
    limits
        The guide's figures of each attempt's species, columns as in `attempt_columns`.
    fate
        Position in `words.FATES` with all that is known.
    best
        Day of each event as `Dates.best` has it, `attempt_columns.MISSING` where there is
        none; shape (attempts, 5), columns as in `dating.EVENTS`.
    width_days
        In how many days each event lies with a chance of 95 %, at least 1; nan where not dated.
        Shape and columns as those of `best`.
    intervals
        The days watched, with the ends that the visits settle: what exposure and losses by cause
        are counted from.
    courses
        Every course that the visits allow: what survival is estimated from.
    broods
        Counts of living young.
    checked
        Box code and season of every box checked in a season; shape (pairs, 2).
        A choice of attempts leaves it whole.
    """

    boxes: tuple[str, ...]
    species_names: tuple[str, ...]
    attempt: NDArray[np.int64]
    rows: NDArray[np.int32]
    number: NDArray[np.int32]
    limits: NDArray[np.int32]
    fate: NDArray[np.int32]
    best: NDArray[np.int64]
    width_days: NDArray[np.float64]
    intervals: Intervals
    courses: Courses
    broods: BroodCounts
    checked: NDArray[np.int64]

    def __len__(self) -> int:
        return len(self.attempt)

    @property
    def laid(self) -> NDArray[np.bool_]:
        """Attempts in which eggs or young were counted."""
        laid: NDArray[np.bool_] = self.rows[:, c.LAID] == 1
        return laid

    @property
    def first_egg(self) -> NDArray[np.int64]:
        """Day of the first egg; MISSING where not dated."""
        return self.best[:, FIRST_EGG]

    @property
    def hatch(self) -> NDArray[np.int64]:
        """Day of hatching; where not dated, the latest that the visits allow, or MISSING."""
        best = self.best[:, HATCH]
        return np.where(best == c.MISSING, self.rows[:, c.HATCH_HI].astype(np.int64), best)

    @property
    def taken_out(self) -> NDArray[np.bool_]:
        """Attempts that the keeper ended by taking a living nest out."""
        taken_out: NDArray[np.bool_] = (self.fate == c.FATE_FAILED) & (
            self.rows[:, c.CAUSE] == c.NEST_REMOVED
        )
        return taken_out

    @cached_property
    def likelihood(self) -> CourseLikelihood:
        """Of the courses, with a rate for days with eggs and one for days with young."""
        return CourseLikelihood(self.courses)

    @cached_property
    def pooled_likelihood(self) -> CourseLikelihood:
        """Of the courses, with one rate for all days."""
        return CourseLikelihood(self.courses.pooled())

    def take(self, keep: NDArray[np.bool_]) -> SeasonTable:
        """The attempts that a mask chooses, with their intervals."""
        place = np.cumsum(keep) - 1
        inside = self.intervals.take(keep[self.intervals.nest])
        return replace(
            self,
            attempt=self.attempt[keep],
            rows=self.rows[keep],
            number=self.number[keep],
            limits=self.limits[keep],
            fate=self.fate[keep],
            best=self.best[keep],
            width_days=self.width_days[keep],
            intervals=replace(inside, nest=place[inside.nest]),
            courses=self.courses.take(keep),
            broods=self.broods.take(keep),
        )

    def of_season(self, season: int) -> SeasonTable:
        """The attempts of one season, and the boxes checked in it."""
        own = self.take(self.rows[:, c.SEASON] == season)
        return replace(own, checked=self.checked[self.checked[:, 1] == season])

    def of_boxes(self, among: NDArray[np.bool_]) -> SeasonTable:
        """The attempts in some boxes, and those of them checked; `among` has one a box."""
        own = self.take(among[self.rows[:, c.BOX]])
        return replace(own, checked=self.checked[among[self.checked[:, 0]]])

    def grouped(self, labels: Sequence[str | None]) -> dict[str, SeasonTable]:
        """One table a label, in order of the labels; attempts without a label are left out."""
        names = sorted({label for label in labels if label is not None})
        codes = {name: code for code, name in enumerate(names)}
        given = np.array([-1 if label is None else codes[label] for label in labels], int)
        return {name: self.take(given == code) for name, code in codes.items()}

    def species(self) -> list[str | None]:
        """The species of each attempt; None where not recorded."""
        names = (*self.species_names, None)
        return [names[code] for code in self.rows[:, c.SPECIES]]

    def seasons(self) -> list[str]:
        """The season of each attempt, as a label."""
        return [str(season) for season in self.rows[:, c.SEASON].tolist()]

    def causes(self) -> list[str | None]:
        """Why each failed attempt failed; None for the others."""
        failed = self.fate == c.FATE_FAILED
        codes = np.where(failed, self.rows[:, c.CAUSE], c.NO_CAUSE)
        return [CAUSES[code] if code >= 0 else None for code in codes.tolist()]
