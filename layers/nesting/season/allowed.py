"""From visits to the courses that they allow.

Only looks into the box count as looks at a nest: a feeding adult seen from outside shows that young
live, but none seen shows little, and to count the one without the other biased success by 4.6
points in simulated seasons.

- A nest enters on the first look that found it alive. What came before is not known.
- Up to the last look that found it alive it lived; `dating` weighs on which day it hatched, with
  the days of incubation that the trail's own nests show (the guide's are a day wider).
- From then on it fledged on any day on which young of its species leave, or was lost on any day
  before, as eggs or as young; the look that found it over, and its signs, weigh these.
- Of a nest that was not seen over, all that may come is a course, and together they say nothing
  of the rates.
- A clutch that went cold, that never hatched, or that its keeper took out, has the days and the end
  that `exposure` gives it; so has a nest whose visits contradict each other.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from layers.nesting import attempt_columns as c
from layers.nesting.dating import terms as t
from layers.nesting.dating.evidence import Evidence, evidence_of
from layers.nesting.dating.model import STANDARD
from layers.nesting.dating.own_periods import own_periods
from layers.nesting.dating.priors import tables_for
from layers.nesting.guide import Guide, OwnPeriods
from layers.nesting.histories import Histories
from layers.nesting.season.courses import (
    NO_SIGN,
    NO_SIGN_POSSIBLE,
    SIGNS_OF_LEAVING,
    SIGNS_OF_LOSS,
    SURE_LOSS,
    Courses,
)
from layers.nesting.season.filling import FLEDGED, fill_courses
from layers.nesting.season.leaving_ages import leaving_ages, scaled

# Neither survival nor the end may weigh on the day of hatching here: both are estimated.
_DATES_ALONE = replace(STANDARD, daily_loss=0.0, never_hatches=0.0)

_NO_SEASON = 10_000
"""After all seasons."""

_SETTLED = (c.WHY_COLD, c.WHY_OVERDUE, c.WHY_KEEPER)

_FOUND = {
    t.FOUND_EMPTY: NO_SIGN,
    t.FOUND_LEFT: SIGNS_OF_LEAVING,
    t.FOUND_LOSS: SIGNS_OF_LOSS,
    t.FOUND_DEAD: SURE_LOSS,
    t.FOUND_SOME_DEAD: NO_SIGN,
    t.FOUND_EGGS: NO_SIGN,
    t.FOUND_AGAIN: NO_SIGN_POSSIBLE,
    t.FOUND_OTHERS: NO_SIGN_POSSIBLE,
    t.FOUND_REMOVED: NO_SIGN_POSSIBLE,
}


def allowed_courses(
    histories: Histories, attempts: NDArray[np.int64], begins: NDArray[np.int64], known: Courses
) -> Courses:
    """The courses of some attempts, in the order given.

    Parameters
    ----------
    attempts
        Positions in the histories, ascending.
    begins
        First day on which eggs or young of each were known; far ahead where they never were.
    known
        The one course of each as `exposure` has it, for attempts whose end is settled and for
        those whose visits contradict each other.
    """
    rows = histories.rows[attempts]
    evidence = evidence_of(histories)
    alive = _last_alive_inside(histories, attempts, rows)
    entered = _entered(histories, attempts, begins)
    found = _found(evidence, attempts, rows)
    open_ended = (alive >= entered) & ~np.isin(rows[:, c.WHY], _SETTLED) & (entered > 0)
    own = _dates_alone(evidence, histories, attempts, alive)
    tables = tables_for(_own_guide(histories), histories.visits.species_names, _DATES_ALONE)
    frames = own.frames[attempts]
    over = np.where(rows[:, c.OVER_DAY] == c.MISSING, -c.MISSING, rows[:, c.OVER_DAY])
    # A loss takes a day at least, even where two looks fell on one day.
    over = np.maximum(over, alive + 1).astype(np.int64)
    days = np.column_stack([entered, alive, over]).astype(np.int64)
    bounds = np.column_stack([own.starts[attempts], own.starts[attempts + 1]])
    chosen = np.flatnonzero(open_ended)
    nest, end, eggs, young, stay, weight = fill_courses(
        own.visits, bounds[chosen], frames[chosen], tables, days[chosen]
    )
    settled = np.ones(len(attempts), bool)
    settled[chosen[np.unique(nest)]] = False
    # What was not seen alive on two days, and what is not in doubt, is as `exposure` has it.
    kept = settled[known.nest]
    found[settled & np.isin(rows[:, c.WHY], (c.WHY_COLD, c.WHY_OVERDUE))] = SURE_LOSS
    found[settled & ~known.watched] = NO_SIGN_POSSIBLE
    found[rows[:, c.WHY] == c.WHY_KEEPER] = NO_SIGN_POSSIBLE
    watched = known.watched & settled
    watched |= ~settled & ((alive > entered) | (rows[:, c.OVER_DAY] != c.MISSING))
    courses = Courses(
        np.concatenate([chosen[nest], known.nest[kept]]),
        np.concatenate([end, known.end[kept]]),
        np.concatenate([eggs, known.egg_days[kept]]),
        np.concatenate([young, known.young_days[kept]]),
        np.concatenate([weight, known.weight[kept]]),
        found,
        entered,
        watched,
        known.hatches,
        known.stays,
    )
    # What is known has no age of leaving in it: all of them.
    stay = np.concatenate([stay, np.full(int(kept.sum()), -1)])
    order = np.argsort(courses.nest, kind="stable")
    courses, stay = courses.sorted(), stay[order]
    species = frames[:, t.F_SPECIES]
    ages, means = leaving_ages(courses, stay, species, tables.nestling)
    courses = scaled(courses, stay, species, tables.nestling, ages)
    stays = np.where(settled, np.nan, means[species])
    return replace(courses, hatches=_hatches(courses, settled), stays=stays).merged()


def _own_guide(histories: Histories) -> Guide:
    """The guide with the incubation that the nests themselves show, those of the last season too;
    at which age young left is estimated together with their risk.
    """
    own = dict(histories.guide.own)
    for name, periods in own_periods(histories, before=_NO_SEASON).items():
        nestling = own[name].nestling if name in own else None
        own[name] = OwnPeriods(periods.incubation, nestling)
    return histories.guide.with_own(own)


def _last_alive_inside(
    histories: Histories, attempts: NDArray[np.int64], rows: NDArray[np.int32]
) -> NDArray[np.int64]:
    """Day of the last look into the box that found each alive; MISSING where none did."""
    own = histories.visit_attempt
    positions = np.arange(len(own))
    last = np.full(len(histories) + 1, c.MISSING, np.int64)
    inside = (own >= 0) & histories.observations["looked"]
    inside &= positions <= histories.rows[own, c.ALIVE] if len(histories) else False
    np.maximum.at(last, own[inside], histories.visits.day[inside].astype(np.int64))
    return np.minimum(last[attempts], rows[:, c.ALIVE_DAY])


def _hatches(courses: Courses, settled: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Mean day of hatching over the courses in which each nest fledged; nan where none is."""
    own = courses.end == FLEDGED
    nest, weight = courses.nest[own], courses.weight[own]
    size = len(settled)
    total = np.bincount(nest, weights=weight, minlength=size)
    days = np.bincount(nest, weights=weight * courses.egg_days[own], minlength=size)
    known = (total > 0) & ~settled
    mean = np.divide(days, total, out=np.full(size, np.nan), where=known)
    return np.asarray(courses.begins + mean)


def _entered(
    histories: Histories, attempts: NDArray[np.int64], begins: NDArray[np.int64]
) -> NDArray[np.int64]:
    """Day of the first look into the box from `begins` on at which no eggs were cold."""
    own, seen = histories.visit_attempt, histories.observations
    place = np.full(len(histories) + 1, -1, np.int64)
    place[attempts] = np.arange(len(attempts))
    nest = place[own]
    day = histories.visits.day.astype(np.int64)
    inside = (nest >= 0) & seen["looked"] & ~seen["cold"]
    inside[inside] = day[inside] >= begins[nest[inside]]
    first = np.full(len(attempts), -c.MISSING, np.int64)
    np.minimum.at(first, nest[inside], day[inside])
    return first


def _found(
    evidence: Evidence, attempts: NDArray[np.int64], rows: NDArray[np.int32]
) -> NDArray[np.int64]:
    codes = np.array([_FOUND[code] for code in range(t.N_FOUND)])
    found: NDArray[np.int64] = codes[evidence.frames[attempts, t.F_FOUND]]
    found[rows[:, c.OVER] < 0] = NO_SIGN_POSSIBLE
    # Eggs left where no young were ever seen are those of a lost clutch.
    unhatched = evidence.frames[attempts, t.F_FOUND] == t.FOUND_EGGS
    found[unhatched & (rows[:, c.YOUNG_DAY] == c.MISSING)] = SURE_LOSS
    return found


def _dates_alone(
    evidence: Evidence, histories: Histories, attempts: NDArray[np.int64], alive: NDArray[np.int64]
) -> Evidence:
    """The evidence as if every nest had been seen alive and nothing after that."""
    visits, frames = evidence.visits.copy(), evidence.frames.copy()
    own = np.repeat(np.arange(len(frames)), np.diff(evidence.starts))
    last = np.full(len(frames), c.MISSING, np.int64)
    last[attempts] = alive
    earlier = visits["day"] <= last[own]
    eggs = (visits["says"] == t.SHOWS_EGGS_LEFT) & earlier
    visits["says"][eggs] = t.SHOWS_EGGS
    visits["says"][~earlier | np.isin(visits["says"], (t.SHOWS_NEAR, t.SHOWS_QUIET))] = (
        t.SHOWS_NOTHING
    )
    frames[:, t.F_ALIVE] = np.maximum(last, 0)
    frames[:, t.F_OVER] = c.MISSING
    frames[:, t.F_FOUND] = t.FOUND_EMPTY
    frames[:, t.F_FOLLOWED] = 0
    return replace(evidence, visits=visits, frames=frames)
