"""Which visit of an attempt disagrees with the others, and by how many days."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from layers.nesting import attempt_columns as c
from layers.nesting.dating import terms as t
from layers.nesting.dating.dates import (
    CANNOT_BE_DATED,
    LEFT_ONE_OUT,
    Dates,
    total_weight,
)
from layers.nesting.dating.evidence import Evidence, evidence_of_one
from layers.nesting.histories import Histories
from layers.trail.coding import day_of
from layers.words import format_count

# A visit further off than this is not a slip in days.
_MAX_DAYS = 40


@dataclass(frozen=True)
class Disagreement:
    """A contradiction within one attempt.

    Attributes
    ----------
    visit
        Position in `Histories.visits` of the visit that disagrees; None where leaving
        out no one visit makes the others agree.
    on
        Its day.
    days
        How many days later (negative: earlier) it would have to have been to agree;
        None where no day agrees, since it is a count that does not fit.
    what
        A sentence.
    """

    visit: int | None
    on: date | None
    days: int | None
    what: str


def disagreement(histories: Histories, dates: Dates, attempt: int) -> Disagreement | None:
    """The contradiction within an attempt; None where its visits agree."""
    how = dates.how[attempt]
    if how == CANNOT_BE_DATED:
        return Disagreement(
            None,
            None,
            None,
            "the visits contradict each other, and leaving out no one of them makes the "
            "others agree: no dates are given",
        )
    if how != LEFT_ONE_OUT:
        return None
    visit = int(dates.left_out[attempt])
    day = int(histories.visits.day[visit])
    own = evidence_of_one(histories, attempt)
    steps = sorted(range(-_MAX_DAYS, _MAX_DAYS + 1), key=abs)
    days = next(
        (by for by in steps if total_weight(_moved(own, visit, day, by), dates.tables) > 0.0), None
    )
    said = f"the visit of {day_of(day).day} {day_of(day):%B} does not agree with the others"
    if days is None:
        what = f"{said} on any day: its count does not fit; the dates leave it out"
    else:
        when = "later" if days > 0 else "earlier"
        what = (
            f"{said} by {format_count(abs(days), 'day', 'days')}: it would fit if it had been "
            f"that much {when}; the dates leave it out"
        )
    return Disagreement(visit, day_of(day), days, what)


def _moved(own: Evidence, visit: int, day: int, by: int) -> Evidence:
    """The evidence as if one visit had been made `by` days later."""
    visits, frames = own.visits.copy(), own.frames.copy()
    visits["day"][own.positions == visit] += by
    if frames[0, t.F_NO_EGG] == day:
        frames[0, t.F_NO_EGG] += by
    if frames[0, t.F_ALIVE] == day:
        frames[0, t.F_ALIVE] += by
    if frames[0, t.F_OVER] != c.MISSING:
        frames[0, t.F_ALIVE] = min(frames[0, t.F_ALIVE], frames[0, t.F_OVER])
    return replace(own, visits=visits, frames=frames)
