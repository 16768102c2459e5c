"""The days of every attempt: first egg, clutch complete, hatching, fledging or loss.

Days are whole, and what happens on a day is seen by a visit on that day. The moment
of an event is taken to be spread evenly over its day: so an interval has ends within
days, and holds its share of the weight exactly, where whole days could only hold more.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
from numpy.typing import NDArray

from layers.nesting import attempt_columns as c
from layers.nesting.dating import model as m
from layers.nesting.dating import terms as t
from layers.nesting.dating.doubts import most_doubtful, suspicious, total_weight
from layers.nesting.dating.evidence import Evidence, evidence_of, evidence_of_one, one
from layers.nesting.dating.model import STANDARD, Model
from layers.nesting.dating.priors import tables_for
from layers.nesting.dating.summing import CLOSED_ABOVE, PARTS, date_all, weigh_first
from layers.nesting.histories import Histories
from layers.nesting.reading.fates import AGE_ERROR_DAYS
from layers.trail.coding import day_of

DATED, NO_EGGS_SEEN, ONE_DOUBTFUL, CANNOT_BE_DATED = range(4)
"""How an attempt was dated: from all its visits; not at all, since nothing was laid that
anybody saw; from all its visits, of which one is probably wrong; not at all, since no course
of a nest goes with its visits."""

UNLIKELY = 0.02
"""Below this chance hatching and fledging are not dated."""

EVENTS = ("first egg", "clutch complete", "hatching", "fledging", "loss")
"""The dated events, in the order of `terms.FIRST_EGG` and so on."""


@dataclass(frozen=True)
class Dated:
    """When one event was, or will be.

    Attributes
    ----------
    best
        The day up to which half of the weight is.
    within_80, within_95
        Moments between which the event is with that chance, in days since 1970-01-01;
        0.25 of a day is six in the morning. As much weight is before as after.
    """

    best: date
    within_80: tuple[float, float]
    within_95: tuple[float, float]

    @property
    def days_80(self) -> tuple[date, date]:
        """First and last whole day that the 80 % interval touches."""
        return _touched(self.within_80)

    @property
    def days_95(self) -> tuple[date, date]:
        """First and last whole day that the 95 % interval touches."""
        return _touched(self.within_95)


def _touched(within: tuple[float, float]) -> tuple[date, date]:
    first, last = within
    return day_of(math.floor(first)), day_of(max(math.ceil(last) - 1, math.floor(first)))


@dataclass(frozen=True)
class AttemptDates:
    """The days of one attempt.

    Attributes
    ----------
    first_egg, complete
        None where the attempt could not be dated.
    hatch
        Given that it hatched, or will; None where that is less likely than `UNLIKELY`.
    fledge, loss
        Each given that this was, or will be, the end; None where it cannot be, or where
        fledging is less likely than `UNLIKELY`.
    hatched, fledged
        Chance that eggs hatched, that young left (or will). None where not dated.
    doubtful
        Position in `Histories.visits` of the visit that is probably wrong; None if none is.
    closed
        First and last day on which the box stays closed for this nest; None if there is none.
    goes_on
        Chance that the visit that found it over is wrong and the nest goes on; 0 where no
        visit did, or the inside was seen since.
    """

    how: int
    first_egg: Dated | None
    complete: Dated | None
    hatch: Dated | None
    fledge: Dated | None
    loss: Dated | None
    hatched: float | None
    fledged: float | None
    doubtful: int | None
    closed: tuple[date, date] | None
    goes_on: float


@dataclass(frozen=True)
class Dates:
    """The days of all attempts; row i belongs to row i of `Histories.rows`.

    Attributes
    ----------
    how
        `DATED`, `NO_EGGS_SEEN`, `ONE_DOUBTFUL` or `CANNOT_BE_DATED`.
    best
        Shape (attempts, 5): best days since 1970-01-01, `attempt_columns.MISSING` for
        an event that cannot be. Columns as in `EVENTS`.
    ends
        Shape (attempts, 5, 4): moments below which 2.5, 10, 90 and 97.5 % of the weight lie.
    hatched, fledged
        Chances; nan where not dated.
    doubtful
        Positions in `Histories.visits`; -1 = none.
    closed
        Shape (attempts, 2): first and last day on which large young are in the box with a
        chance above `summing.CLOSED_ABOVE`, over all courses, also those in which a visit is
        wrong; `attempt_columns.MISSING` where there is no such day.
    goes_on
        Chance that the visit that found the nest over is wrong.
    tables
        What was expected of each species.
    """

    how: NDArray[np.int8]
    best: NDArray[np.int64]
    ends: NDArray[np.float64]
    hatched: NDArray[np.float64]
    fledged: NDArray[np.float64]
    doubtful: NDArray[np.int64]
    closed: NDArray[np.int64]
    goes_on: NDArray[np.float64]
    tables: t.Tables

    def __len__(self) -> int:
        return len(self.how)

    def of(self, attempt: int) -> AttemptDates:
        """The days of one attempt, as dates."""
        doubtful = int(self.doubtful[attempt])
        first, last = self.closed[attempt].tolist()
        best = self.best_days(slice(attempt, attempt + 1))[0].tolist()
        ends = self.ends[attempt].tolist()
        return AttemptDates(
            how=int(self.how[attempt]),
            first_egg=_event(best, ends, t.FIRST_EGG),
            complete=_event(best, ends, t.COMPLETE),
            hatch=_event(best, ends, t.HATCH),
            fledge=_event(best, ends, t.FLEDGE),
            loss=_event(best, ends, t.FAILURE),
            hatched=_chance(self.hatched[attempt]),
            fledged=_chance(self.fledged[attempt]),
            doubtful=doubtful if doubtful >= 0 else None,
            closed=None if first == c.MISSING else (day_of(first), day_of(last)),
            goes_on=float(self.goes_on[attempt]),
        )

    def best_days(self, among: slice | NDArray[np.int64] = slice(None)) -> NDArray[np.int64]:
        """`best` of some attempts, without hatching and fledging less likely than `UNLIKELY`."""
        best = self.best[among].copy()
        best[~(self.hatched[among] >= UNLIKELY), t.HATCH] = c.MISSING
        best[~(self.fledged[among] >= UNLIKELY), t.FLEDGE] = c.MISSING
        return best


def _event(best: Sequence[int], ends: Sequence[Sequence[float]], event: int) -> Dated | None:
    if best[event] == c.MISSING:
        return None
    low95, low80, high80, high95 = ends[event]
    return Dated(day_of(best[event]), (low80, high80), (low95, high95))


def _chance(value: float) -> float | None:
    return None if math.isnan(value) else float(value)


def known_on(histories: Histories, on: date, dates: Dates | None = None) -> tuple[Histories, Dates]:
    """Histories and their dates as known on a day: from the visits up to it.

    Parameters
    ----------
    dates
        Those of `histories`, if at hand; used where no visit is later.
    """
    known = histories.up_to(on)
    if dates is None or known is not histories:
        return known, date_attempts(known)
    return known, dates


@dataclass(frozen=True)
class Posterior:
    """The weights of every day of one attempt.

    Attributes
    ----------
    first_day
        Days since 1970-01-01 of the first column.
    chances
        Shape (5, days). Rows FIRST_EGG and COMPLETE sum to 1, HATCH to `hatched`, FLEDGE
        to `fledged`; FAILURE to the chance of a loss on a day within reach.
    hatched, fledged
        Chance that eggs hatched, that young left (or will).
    """

    first_day: int
    chances: NDArray[np.float64]
    hatched: float
    fledged: float


def date_attempts(histories: Histories, *, model: Model = STANDARD) -> Dates:
    """The days of every attempt in the visits."""
    tables = tables_for(histories.guide, histories.visits.species_names, model)
    return _date(histories, range(len(histories)), tables)


def redated(dates: Dates, before: Histories, after: Histories, box: str) -> Dates:
    """The days after one box's visits were replaced (`Histories.replaced`), that box alone
    dated anew.

    Parameters
    ----------
    dates
        Those of the histories `before`.
    """
    old, new = before.attempts_of(box), after.attempts_of(box)
    tables = dates.tables
    if after.visits.species_names != before.visits.species_names:
        named = tables_for(after.guide, after.visits.species_names, STANDARD)
        tables = named._replace(chances=tables.chances, findings=tables.findings)
    fresh = _date(after, new, tables)
    later = dates.doubtful[old.stop :]
    shifted = np.where(later >= 0, later + len(after.visits) - len(before.visits), later)
    joined = {
        name: np.concatenate(
            [
                getattr(dates, name)[: old.start],
                getattr(fresh, name),
                shifted if name == "doubtful" else getattr(dates, name)[old.stop :],
            ]
        )
        for name in _COLUMNS
    }
    return Dates(**joined, tables=tables)


_COLUMNS = tuple(name for name in Dates.__dataclass_fields__ if name != "tables")


def posterior(histories: Histories, dates: Dates, attempt: int) -> Posterior | None:
    """The weights of every day of one attempt; None where it could not be dated."""
    if dates.how[attempt] in (NO_EGGS_SEEN, CANNOT_BE_DATED):
        return None
    evidence = evidence_of_one(histories, attempt)
    first_day, weights, sums = weigh_first(
        evidence.visits, evidence.starts, evidence.frames, dates.tables
    )
    total = sums[t.TOTAL]
    return Posterior(
        int(first_day),
        weights[: t.N_EVENTS] / total,
        float(sums[t.HATCHED] / total),
        float(sums[t.FLEDGED_SUM] / total),
    )


def _date(histories: Histories, attempts: range, tables: t.Tables) -> Dates:
    evidence = evidence_of(histories, attempts)
    dates = dated(evidence, tables)
    laid = histories.rows[attempts.start : attempts.stop, c.PHASE] >= c.EGGS
    dates.how[~laid] = NO_EGGS_SEEN
    dates.closed[~laid] = c.MISSING
    for a in suspicious(histories.rows[attempts.start : attempts.stop], evidence, dates):
        found = most_doubtful(histories, one(evidence, int(a)), tables)
        if found is not None:
            dates.how[a], dates.doubtful[a] = ONE_DOUBTFUL, found.visit
            if dates.closed[a, 1] != c.MISSING or histories.rows[attempts[a], c.OVER] < 0:
                _close_for_doubtful(histories, found.visit, tables, dates.closed[a])
    rows = histories.rows[attempts.start : attempts.stop]
    for a in np.flatnonzero(laid & (rows[:, c.NOTES] & c.NOTE_OTHER_NAME != 0)):
        _close_for_other_names(histories, one(evidence, int(a)), dates, int(a))
    return dates


def _close_for_doubtful(
    histories: Histories, visit: int, tables: t.Tables, closed: NDArray[np.int64]
) -> None:
    """Close the box also on the days of the young that a doubtful visit saw, where it is the
    last: until another settles it, they may be there.
    """
    seen, visits = histories.observations[visit], histories.visits
    last = visit + 1 == histories.visit_starts[visits.box[visit] + 1]
    spans = tables.spans[histories.rows[histories.visit_attempt[visit], c.SPECIES] + 1]
    closes, leave = int(spans[t.CLOSES_AT]), int(spans[t.NESTLING_HIGH])
    if not last or seen["young"] <= 0 or closes > leave:
        return
    day, age = int(seen["day"]), int(seen["age"])
    # Young whose age was not judged, or wildly, may be large, and may be small.
    youngest, oldest = 0, closes
    if 0 <= age <= leave + AGE_ERROR_DAYS:
        youngest, oldest = max(age - AGE_ERROR_DAYS, 0), age + AGE_ERROR_DAYS
    first, end = day + max(closes - oldest, 0), day + leave - youngest - 1
    known = closed[0] != c.MISSING
    closed[0] = min(int(closed[0]), first) if known else first
    closed[1] = max(int(closed[1]), first, end)


def _close_for_other_names(histories: Histories, own: Evidence, dates: Dates, attempt: int) -> None:
    """Close the box also on the days of another species that a visit named, weighed by how
    often it was named and how well its figures fit.
    """
    named = histories.visits.species[own.positions[: own.starts[1]]]
    codes, times = np.unique(named[named >= 0], return_counts=True)
    held = int(own.frames[0, t.F_SPECIES]) - 1
    of_held = int(times[codes == held].sum())
    total = total_weight(own, dates.tables)
    for code, number in zip(codes.tolist(), times.tolist(), strict=True):
        if code == held:
            continue
        other = replace(own, frames=own.frames.copy())
        other.frames[0, t.F_SPECIES] = code + 1
        wrong = dates.tables.chances[m.SLIP] ** max(of_held - number, 0)
        weight = wrong * total_weight(other, dates.tables)
        first, last = dated(other, dates.tables).closed[0].tolist()
        if first == c.MISSING or weight <= CLOSED_ABOVE * (weight + total):
            continue
        known = dates.closed[attempt]
        is_closed = known[0] != c.MISSING
        known[0] = min(known[0], first) if is_closed else first
        known[1] = max(known[1], last)


def dated(evidence: Evidence, tables: t.Tables) -> Dates:
    """Date each attempt from all its evidence; `CANNOT_BE_DATED` where no course fits."""
    size = len(evidence.frames)
    best = np.full((size, t.N_EVENTS), c.MISSING, np.int64)
    ends = np.full((size, t.N_EVENTS, len(PARTS)), np.nan)
    sums = np.zeros((size, t.N_SUMS))
    closed = np.full((size, 2), c.MISSING, np.int64)
    goes_on = np.zeros(size)
    results = (best, ends, sums, closed, goes_on)
    date_all(evidence.visits, evidence.starts, evidence.frames, tables, results)
    total = np.where(sums[:, t.TOTAL] > 0, sums[:, t.TOTAL], np.nan)
    how = np.where(np.isnan(total), CANNOT_BE_DATED, DATED).astype(np.int8)
    return Dates(
        how,
        best,
        ends,
        sums[:, t.HATCHED] / total,
        sums[:, t.FLEDGED_SUM] / total,
        np.full(size, -1, np.int64),
        closed,
        goes_on,
        tables,
    )
