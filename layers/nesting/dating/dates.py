"""The days of every attempt: first egg, clutch complete, hatching, fledging or loss.

Days are whole, and what happens on a day is seen by a visit on that day. The moment
of an event is taken to be spread evenly over its day: so an interval has ends within
days, and holds its share of the weight exactly, where whole days could only hold more.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
from numpy.typing import NDArray

from layers.nesting import attempt_columns as c
from layers.nesting.dating import terms as t
from layers.nesting.dating.evidence import Evidence, evidence_of, evidence_of_one, one
from layers.nesting.dating.model import STANDARD, Model
from layers.nesting.dating.priors import tables_for
from layers.nesting.dating.summing import PARTS, date_all, weigh_first
from layers.nesting.histories import Histories
from layers.trail.coding import day_of

DATED, NO_EGGS_SEEN, LEFT_ONE_OUT, CANNOT_BE_DATED = range(4)
"""How an attempt was dated: from all its visits; not at all, since nothing was laid that
anybody saw; from all but one visit, which contradicts the others; not at all, since
leaving out no one visit makes the others agree."""

UNLIKELY = 0.001
"""Below this chance hatching and fledging are not dated."""

EVENTS = ("first egg", "clutch complete", "hatching", "fledging", "loss")
"""The dated events, in the order of `terms.FIRST_EGG` and so on."""


@dataclass(frozen=True)
class Dated:
    """When one event was, or will be.

    Attributes
    ----------
    best
        The day up to which half of the weight lies.
    within_80, within_95
        Moments between which the event lies with that chance, in days since 1970-01-01;
        0.25 of a day is six in the morning. As much weight lies before as after.
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
    left_out
        Position in `Histories.visits` of the visit that contradicts the others and was
        left out; None if there is none.
    """

    how: int
    first_egg: Dated | None
    complete: Dated | None
    hatch: Dated | None
    fledge: Dated | None
    loss: Dated | None
    hatched: float | None
    fledged: float | None
    left_out: int | None


@dataclass(frozen=True)
class Dates:
    """The days of all attempts; row i belongs to row i of `Histories.rows`.

    Attributes
    ----------
    how
        `DATED`, `NO_EGGS_SEEN`, `LEFT_ONE_OUT` or `CANNOT_BE_DATED`.
    best
        Shape (attempts, 5): best days since 1970-01-01, `attempt_columns.MISSING` for
        an event that cannot be. Columns as in `EVENTS`.
    ends
        Shape (attempts, 5, 4): moments below which 2.5, 10, 90 and 97.5 % of the weight lie.
    hatched, fledged
        Chances; nan where not dated.
    left_out
        Positions in `Histories.visits`; -1 = none.
    tables
        What was expected of each species.
    """

    how: NDArray[np.int8]
    best: NDArray[np.int64]
    ends: NDArray[np.float64]
    hatched: NDArray[np.float64]
    fledged: NDArray[np.float64]
    left_out: NDArray[np.int64]
    tables: t.Tables

    def __len__(self) -> int:
        return len(self.how)

    def of(self, attempt: int) -> AttemptDates:
        """The days of one attempt, as dates."""
        left_out = int(self.left_out[attempt])
        return AttemptDates(
            how=int(self.how[attempt]),
            first_egg=self._event(attempt, t.FIRST_EGG),
            complete=self._event(attempt, t.COMPLETE),
            hatch=self._event(attempt, t.HATCH),
            fledge=self._event(attempt, t.FLEDGE),
            loss=self._event(attempt, t.FAILURE),
            hatched=_chance(self.hatched[attempt]),
            fledged=_chance(self.fledged[attempt]),
            left_out=left_out if left_out >= 0 else None,
        )

    def best_days(self, among: slice | NDArray[np.int64] = slice(None)) -> NDArray[np.int64]:
        """`best` of some attempts, without hatching and fledging less likely than `UNLIKELY`."""
        best = self.best[among].copy()
        best[~(self.hatched[among] >= UNLIKELY), t.HATCH] = c.MISSING
        best[~(self.fledged[among] >= UNLIKELY), t.FLEDGE] = c.MISSING
        return best

    def _event(self, attempt: int, event: int) -> Dated | None:
        best = int(self.best_days(slice(attempt, attempt + 1))[0, event])
        if best == c.MISSING:
            return None
        low95, low80, high80, high95 = (float(end) for end in self.ends[attempt, event])
        return Dated(day_of(best), (low80, high80), (low95, high95))


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
    """The days of every attempt that the visits tell of."""
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
    later = dates.left_out[old.stop :]
    shifted = np.where(later >= 0, later + len(after.visits) - len(before.visits), later)
    joined = {
        name: np.concatenate(
            [
                getattr(dates, name)[: old.start],
                getattr(fresh, name),
                shifted if name == "left_out" else getattr(dates, name)[old.stop :],
            ]
        )
        for name in _COLUMNS
    }
    return Dates(**joined, tables=tables)


_COLUMNS = tuple(name for name in Dates.__dataclass_fields__ if name != "tables")


def posterior(histories: Histories, dates: Dates, attempt: int) -> Posterior | None:
    """The weights of every day of one attempt; None where it could not be dated.

    The visit that `dates` left out is left out here too.
    """
    if dates.how[attempt] in (NO_EGGS_SEEN, CANNOT_BE_DATED):
        return None
    evidence = evidence_of_one(histories, attempt)
    left_out = int(dates.left_out[attempt])
    if left_out >= 0:
        evidence = without(evidence, left_out)
    first_day, weights, sums = weigh_first(
        evidence.visits, evidence.starts, evidence.frames, dates.tables
    )
    total = sums[t.TOTAL]
    return Posterior(
        int(first_day),
        weights / total,
        float(sums[t.HATCHED] / total),
        float(sums[t.FLEDGED_SUM] / total),
    )


def without(evidence: Evidence, position: int) -> Evidence:
    """The evidence for one attempt, the first row, as if one visit had seen nothing.

    `position` is that of the visit in `Histories.visits`. One before the attempt, or one
    that saw no egg, takes the last day without an egg with it.
    """
    visits, frames = evidence.visits.copy(), evidence.frames.copy()
    own = evidence.positions == position
    visits["says"][own] = t.SAYS_NOTHING
    if not own.any() or (visits["day"][own] == frames[0, t.F_NO_EGG]).any():
        frames[0, t.F_NO_EGG] = c.MISSING
    first = visits[: evidence.starts[1]]
    alive = first["day"][np.isin(first["says"], (t.SAYS_EGGS, t.SAYS_SITTING, t.SAYS_YOUNG))]
    if own.any() and len(alive):
        frames[0, t.F_ALIVE] = alive.max()
    return replace(evidence, visits=visits, frames=frames)


def _date(histories: Histories, attempts: range, tables: t.Tables) -> Dates:
    evidence = evidence_of(histories, attempts)
    dates = dated(evidence, tables)
    laid = histories.rows[attempts.start : attempts.stop, c.PHASE] >= c.EGGS
    dates.how[~laid] = NO_EGGS_SEEN
    for a in np.flatnonzero(dates.how == CANNOT_BE_DATED):
        _leave_one_out(histories, evidence, int(a), dates)
    return dates


def dated(evidence: Evidence, tables: t.Tables) -> Dates:
    """Date each attempt from all its evidence; `CANNOT_BE_DATED` where no course fits."""
    size = len(evidence.frames)
    best = np.full((size, t.N_EVENTS), c.MISSING, np.int64)
    ends = np.full((size, t.N_EVENTS, len(PARTS)), np.nan)
    sums = np.zeros((size, t.N_SUMS))
    date_all(evidence.visits, evidence.starts, evidence.frames, tables, (best, ends, sums))
    total = np.where(sums[:, t.TOTAL] > 0, sums[:, t.TOTAL], np.nan)
    how = np.where(np.isnan(total), CANNOT_BE_DATED, DATED).astype(np.int8)
    return Dates(
        how,
        best,
        ends,
        sums[:, t.HATCHED] / total,
        sums[:, t.FLEDGED_SUM] / total,
        np.full(size, -1, np.int64),
        tables,
    )


def _leave_one_out(histories: Histories, evidence: Evidence, attempt: int, dates: Dates) -> None:
    """Date an attempt from all visits but the one without which the others agree best."""
    own = one(evidence, attempt)
    chosen, most = -1, 0.0
    for position in suspects(histories, own):
        weight = total_weight(without(own, position), dates.tables)
        if weight > most:
            chosen, most = position, weight
    if chosen < 0:
        return
    found = dated(without(own, chosen), dates.tables)
    for name in ("best", "ends", "hatched", "fledged"):
        getattr(dates, name)[attempt] = getattr(found, name)[0]
    dates.how[attempt], dates.left_out[attempt] = LEFT_ONE_OUT, chosen


def suspects(histories: Histories, own: Evidence) -> list[int]:
    """Visits that may contradict the others: those that say something, and the last one
    without an egg, which may lie before the attempt. Later ones first.
    """
    says = own.visits["says"][: own.starts[1]] != t.SAYS_NOTHING
    found = own.positions[: own.starts[1]][says].tolist()
    no_egg = own.frames[0, t.F_NO_EGG]
    if no_egg != c.MISSING and len(own.positions):
        box = histories.visits.box[own.positions[0]]
        lo, hi = histories.visit_starts[box : box + 2]
        found += (lo + np.flatnonzero(histories.visits.day[lo:hi] == no_egg)).tolist()
    return sorted(set(found), reverse=True)


def total_weight(own: Evidence, tables: t.Tables) -> float:
    """Weight of all courses of an attempt, the first row, that fit its evidence; 0 = its visits
    contradict each other.

    Of two visits that could be left out, the one that leaves more weight is the odder one.
    """
    return float(weigh_first(own.visits, own.starts, own.frames, tables)[2][t.TOTAL])
