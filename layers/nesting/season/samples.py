"""The attempts that a measure counts, and why it leaves the others out."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from layers.nesting import attempt_columns as c
from layers.nesting.season.exposure import watched_from
from layers.nesting.season.tables import SeasonTable


class Exclusion(Enum):
    """Why an attempt does not count; the value is the sentence for the list."""

    NEVER_LAID = "no egg or young was counted in it"
    NOT_ALIVE = "it was not alive when eggs or young were first counted"
    ONE_LOOK = "it was seen alive on one day only, so no day of it was watched"
    FATE_UNKNOWN = "its outcome is unknown"
    STILL_GOING = "it is still going on"
    TAKEN_OUT = "the keeper took the living nest out"
    EGGS_NOT_COUNTED = "its eggs were not counted"
    PERHAPS_INCOMPLETE = "more eggs may have been laid after the last count"
    EGGS_VANISHED = "eggs vanished, so the clutch may have been larger"
    SEVERAL_FEMALES = "more eggs than one female lays, or faster than she lays them"
    DID_NOT_REACH_HATCHING = "it was lost before hatching"
    YOUNG_NOT_COUNTED = "its young were not counted soon after hatching"
    MORE_YOUNG_THAN_EGGS = "more young than eggs were counted"


@dataclass(frozen=True)
class LeftOut:
    """One attempt that a measure leaves out. `reason` is a sentence without a subject."""

    box: str
    season: int
    attempt: int
    reason: str


class Sample:
    """The attempts of a table that a measure counts. The first reason that holds is given."""

    def __init__(self, *rules: tuple[Exclusion, NDArray[np.bool_]]) -> None:
        self._reasons = tuple(reason for reason, _ in rules)
        self._code = np.full(len(rules[0][1]), -1, np.int8)
        for code, (_, holds) in enumerate(rules):
            self._code[holds & (self._code < 0)] = code

    @property
    def counted(self) -> NDArray[np.bool_]:
        """A mask over the table's attempts."""
        return self._code < 0

    def left_out(self) -> dict[str, int]:
        """Exclusion -> how many attempts, for the reasons that occur."""
        numbers = np.bincount(self._code[self._code >= 0], minlength=len(self._reasons))
        return {
            reason.value: int(number)
            for reason, number in zip(self._reasons, numbers, strict=True)
            if number
        }

    def listed(self, table: SeasonTable) -> list[LeftOut]:
        """Every attempt left out, with its reason, in the order of the table."""
        return [
            LeftOut(
                table.boxes[table.rows[at, c.BOX]],
                int(table.rows[at, c.SEASON]),
                int(table.number[at]),
                self._reasons[self._code[at]].value,
            )
            for at in np.flatnonzero(self._code >= 0)
        ]


def for_survival(table: SeasonTable) -> Sample:
    """Attempts with days of exposure: uncertain fates count up to the last day alive."""
    rows = table.rows
    watched = table.courses.watched
    return Sample(
        (Exclusion.NEVER_LAID, ~table.laid),
        (Exclusion.NOT_ALIVE, ~watched & (rows[:, c.ALIVE_DAY] < watched_from(rows))),
        (Exclusion.TAKEN_OUT, ~watched & table.taken_out),
        (Exclusion.ONE_LOOK, ~watched),
    )


def for_success(table: SeasonTable) -> Sample:
    """Attempts whose end is known."""
    return Sample(
        (Exclusion.NEVER_LAID, ~table.laid),
        (Exclusion.TAKEN_OUT, table.taken_out),
        (Exclusion.STILL_GOING, table.fate == c.ONGOING),
        (Exclusion.FATE_UNKNOWN, table.fate == c.FATE_UNKNOWN),
    )


def _clutch_rules(table: SeasonTable) -> tuple[tuple[Exclusion, NDArray[np.bool_]], ...]:
    rows, limits = table.rows, table.limits
    # Even had it hatched as late, and been sat on as short, as it can: laying was over.
    sat_on = limits[:, c.INCUBATION_LEAST] - limits[:, c.EARLY_DAYS]
    hatched = rows[:, c.HATCH_HI] != c.MISSING
    late_count = hatched & (rows[:, c.EGGS_DAY] >= rows[:, c.HATCH_HI] - sat_on)
    notes = rows[:, c.NOTES]
    # Eggs first counted beside young are those that had not hatched.
    counted = (rows[:, c.EGG_DAY] != c.MISSING) & (rows[:, c.EGGS_MAX] > 0)
    counted &= (rows[:, c.YOUNG_DAY] == c.MISSING) | (rows[:, c.EGG_DAY] < rows[:, c.YOUNG_DAY])
    return (
        (Exclusion.NEVER_LAID, ~table.laid),
        (Exclusion.EGGS_NOT_COUNTED, ~counted),
        (Exclusion.SEVERAL_FEMALES, (notes & c.NOTE_MANY_EGGS) != 0),
        (Exclusion.PERHAPS_INCOMPLETE, (rows[:, c.STABLE] == 0) & ~late_count),
        (Exclusion.EGGS_VANISHED, (notes & c.NOTE_FEWER_EGGS) != 0),
    )


def for_clutch(table: SeasonTable) -> Sample:
    """Attempts whose complete clutch was counted, with no history of lost eggs (Klett et al. 1986).

    Complete means: two counts more than a laying interval apart were equal, or the
    last count was made so shortly before hatching that laying must have been over.
    """
    return Sample(*_clutch_rules(table))


COUNTED_YOUNG_WITHIN_DAYS = 7
"""Up to this age of the young, the first count stands for the brood at hatching (common
practice, no source)."""


def _young_counted(table: SeasonTable) -> NDArray[np.bool_]:
    rows = table.rows
    age = rows[:, c.YOUNG_DAY] - table.hatch
    return (rows[:, c.YOUNG_MAX] > 0) & (age <= COUNTED_YOUNG_WITHIN_DAYS)


def for_brood(table: SeasonTable) -> Sample:
    """Attempts in which young hatched and were counted within a week."""
    hatched = table.rows[:, c.YOUNG_DAY] != c.MISSING
    return Sample(
        (Exclusion.NEVER_LAID, ~table.laid),
        (Exclusion.DID_NOT_REACH_HATCHING, ~hatched),
        (Exclusion.YOUNG_NOT_COUNTED, ~_young_counted(table)),
    )


def for_hatching(table: SeasonTable) -> Sample:
    """Attempts that reached hatching with their eggs and their young counted.

    A clutch that its parents kept to and that never hatched reached it too, with none.
    """
    rows = table.rows
    never = (table.fate == c.FATE_FAILED) & (rows[:, c.CAUSE] == c.DID_NOT_HATCH)
    hatched = rows[:, c.YOUNG_DAY] != c.MISSING
    return Sample(
        *_clutch_rules(table),
        (Exclusion.DID_NOT_REACH_HATCHING, ~(hatched | never)),
        (Exclusion.YOUNG_NOT_COUNTED, hatched & ~_young_counted(table)),
        (Exclusion.MORE_YOUNG_THAN_EGGS, rows[:, c.YOUNG_MAX] > rows[:, c.EGGS_MAX]),
    )


def for_fledged(table: SeasonTable) -> Sample:
    """Attempts that are over, and that the keeper left alone."""
    return Sample(
        (Exclusion.NEVER_LAID, ~table.laid),
        (Exclusion.TAKEN_OUT, table.taken_out),
        (Exclusion.STILL_GOING, table.fate == c.ONGOING),
    )
