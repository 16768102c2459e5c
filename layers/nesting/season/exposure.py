"""From histories to the season's table: which days each nest was watched, and what came of them.

The rules, with their sources:

- Watching begins on the first day on which eggs or young were counted. What was laid
  and lost before that is not known, so no earlier day counts.
- A nest of uncertain fate ends on the last day it was seen alive (Manolis, Andersen &
  Cuthbert 2000, Auk 117:615-626); so does one that is still going.
- A lost nest was lost between the last look that found it alive and the first that found
  it over, or its eggs cold. The window is cut at the expected day of fledging (Green 2004,
  in Sutherland, Newton & Green, Bird Ecology and Conservation, 3.3.6).
- A clutch that never hatched was lost when it should have hatched, not when that was noticed.
- A nest that fledged is watched to the day on which `dating` has it fledge; to the middle of
  those looks where it is not dated.
- A nest that the keeper took out ends there, alive (so with desertion caused by the
  investigator in Klett et al. 1986, Resource Publication 158, appendix B).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

import numpy as np
from numpy.typing import NDArray

from layers.errors import BadValue
from layers.nesting import attempt_columns as c
from layers.nesting.dating import Dates
from layers.nesting.dating.terms import COMPLETE, FLEDGE
from layers.nesting.histories import Histories
from layers.nesting.season.allowed import allowed_courses
from layers.nesting.season.broods import brood_counts
from layers.nesting.season.courses import known_courses
from layers.nesting.season.intervals import Intervals
from layers.nesting.season.tables import SeasonTable
from layers.trail.coding import day_number, day_of


def season_table(
    histories: Histories,
    dates: Dates,
    *,
    on: date,
    seasons: Sequence[int] | None = None,
    species: str | None = None,
) -> SeasonTable:
    """The attempts of some seasons and the days over which they were watched.

    Parameters
    ----------
    dates
        Of these histories.
    on
        The day to look from: not before the last visit. A nest that may still be
        going on that day is ongoing.
    seasons
        Only attempts of these; None = all.
    species
        Only attempts of this species, by any name of the guide; None = all, also
        those whose species is not recorded.

    Raises
    ------
    BadValue
        The day is before the last visit, or the guide has no such species.
    """
    days = histories.visits.day
    if len(days) and day_number(on) < days.max():
        raise BadValue(f"a day not before the last visit on {day_of(days.max())}", str(on))
    rows = histories.rows
    keep = np.ones(len(rows), bool)
    seen = histories.observations
    checked_at = seen["looked"].copy()
    if seasons is not None:
        keep &= np.isin(rows[:, c.SEASON], list(seasons))
        checked_at &= np.isin(seen["season"], list(seasons))
    if species is not None:
        common = histories.guide.find(species).common
        names = histories.visits.species_names
        code = names.index(common) if common in names else len(names)
        keep &= rows[:, c.SPECIES] == code
    # All of them: on which days eggs hatch and young leave, the other seasons show too.
    chosen = np.arange(len(rows))
    pairs = np.column_stack([histories.visits.box, seen["season"]])[checked_at]
    fate = histories.fates(on)[chosen]
    limits = histories.limits[rows[chosen, c.SPECIES] + 1]
    ends = dates.ends[chosen]
    whole = SeasonTable(
        boxes=histories.visits.boxes,
        species_names=histories.visits.species_names,
        attempt=chosen,
        rows=rows[chosen],
        number=histories.numbers[chosen],
        limits=limits,
        fate=fate,
        best=dates.best_days(chosen),
        width_days=np.maximum(np.ceil(ends[..., 3]) - np.floor(ends[..., 0]), 1),
        intervals=Intervals.none(),
        courses=known_courses(Intervals.none(), fate == c.FATE_FLEDGED),
        broods=brood_counts(histories, chosen),
        checked=np.unique(pairs.astype(np.int64), axis=0).reshape(-1, 2),
    )
    intervals = _intervals(histories, whole)
    known = known_courses(intervals, fate == c.FATE_FLEDGED)
    courses = allowed_courses(histories, chosen, watched_from(whole.rows), known)
    return replace(whole, intervals=intervals, courses=courses).take(keep)


def watched_from(rows: NDArray[np.int32]) -> NDArray[np.int64]:
    """First day on which eggs or young were known; far ahead where none ever were."""
    days = rows[:, [c.EGG_DAY, c.YOUNG_DAY]].astype(np.int64)
    first: NDArray[np.int64] = np.where(days == c.MISSING, -c.MISSING, days).min(axis=1)
    return np.where(rows[:, c.LAID] == 1, first, -c.MISSING)


def expected_hatch(table: SeasonTable) -> NDArray[np.int64]:
    """Day of hatching: as dated where young were seen, else that on which it was due.

    A nest lost before anybody saw young was due to hatch the guide's incubation after its
    clutch was complete; eggs seen without young had not hatched by that day. (Its dated
    hatching supposes that it hatched before it was lost, which is seldom the case.)
    """
    rows, limits = table.rows, table.limits
    incubation = (limits[:, c.INCUBATION_LEAST] + limits[:, c.INCUBATION_MOST]) // 2
    due = np.maximum(clutch_complete(table) + incubation, rows[:, c.NO_YOUNG_DAY] + 1)
    return np.where(rows[:, c.YOUNG_DAY] != c.MISSING, table.hatch, due)


def clutch_complete(table: SeasonTable) -> NDArray[np.int64]:
    """Day of the last egg; where not dated, that on which most eggs were first counted."""
    complete = table.best[:, COMPLETE]
    return np.where(complete == c.MISSING, table.rows[:, c.FULL_DAY], complete)


def _intervals(histories: Histories, table: SeasonTable) -> Intervals:
    rows = table.rows
    hatch = expected_hatch(table)
    begins = watched_from(rows)
    alive = rows[:, c.ALIVE_DAY].astype(np.int64)

    # Every look that found the nest alive, as pairs of nest and day.
    place = np.full(len(histories.rows) + 1, -1, np.int64)
    place[table.attempt] = np.arange(len(table))
    nest = place[histories.visit_attempt]
    nest, day = nest[nest >= 0], histories.visits.day[nest >= 0].astype(np.int64)
    watched = (day >= begins[nest]) & (day <= alive[nest])
    nest, day = nest[watched], day[watched]
    new_day = _begins(nest) | _begins(day)
    nest, day = nest[new_day], day[new_day]
    first = _begins(nest)

    # From each look to the next, and from the last to the nest's end.
    end, lost_at_end = _ends(table, hatch)
    last = np.roll(first, -1)
    following = np.where(last, end[nest], np.roll(day, -1))
    lost = last & lost_at_end[nest]

    # A clutch that never hatched: lost in the interval in which it should have.
    overdue = (lost_at_end & (rows[:, c.WHY] == c.WHY_OVERDUE))[nest]
    due = (clutch_complete(table) + table.limits[:, c.INCUBATION_MOST])[nest]
    in_time = first | (day <= due)
    lost |= overdue & in_time & (following > due)

    kept = (following > day) & (in_time | ~overdue)
    nest, day, length, lost = nest[kept], day[kept], (following - day)[kept], lost[kept]
    # A clutch that went cold, or never hatched, has no days with young.
    eggs_only = np.isin(rows[:, c.WHY], (c.WHY_OVERDUE, c.WHY_COLD))
    hatch = np.where(eggs_only, -c.MISSING, hatch)
    egg_days = np.clip(hatch[nest] - day, 0, length)
    return Intervals(nest, day, egg_days, length - egg_days, lost)


def _begins(values: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Where a value differs from the one before it; the first does."""
    begins = np.ones(len(values), bool)
    begins[1:] = values[1:] != values[:-1]
    return begins


def _ends(
    table: SeasonTable, hatch: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Last day of watching of each nest, and whether the nest was lost by it."""
    rows, limits = table.rows, table.limits
    alive, over = rows[:, c.ALIVE_DAY].astype(np.int64), rows[:, c.OVER_DAY].astype(np.int64)
    seen_over = over != c.MISSING
    lost = (table.fate == c.FATE_FAILED) & ~table.taken_out & seen_over
    cold = (rows[:, c.WHY] == c.WHY_COLD) & (rows[:, c.COLD_RUN] > 0)
    found = np.where(cold, rows[:, c.COLD_DAY], over)
    # A lost nest has no day of fledging: the guide gives the day on which it would have been.
    would_fledge = hatch + (limits[:, c.NESTLING_LEAVES] + limits[:, c.NESTLING_MOST]) // 2
    # A loss takes a day at least, even where two looks fell on one day.
    window = np.maximum(np.minimum(found, would_fledge), alive + 1)
    fledge = table.best[:, FLEDGE]
    left = np.where(fledge == c.MISSING, (alive + over) // 2, fledge)
    fledged = (table.fate == c.FATE_FLEDGED) & seen_over
    end = np.where(lost, window, np.where(fledged, left, alive))
    return end, lost
