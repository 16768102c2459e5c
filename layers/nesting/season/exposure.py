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
- A nest that fledged is watched to its expected day of fledging between those looks; to
  their middle where hatching is not dated.
- A nest that the keeper took out ends there, alive (so with desertion caused by the
  investigator in Klett et al. 1986, Resource Publication 158, appendix B).
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np
from numpy.typing import NDArray

from layers.errors import BadValue
from layers.nesting import attempt_columns as c
from layers.nesting.histories import Histories
from layers.nesting.season.tables import Intervals, SeasonTable
from layers.trail.coding import day_number, day_of


def season_table(
    histories: Histories,
    *,
    on: date,
    seasons: Sequence[int] | None = None,
    species: str | None = None,
) -> SeasonTable:
    """The attempts of some seasons and the days over which they were watched.

    Parameters
    ----------
    on
        The day to look from: not before the last visit. A nest that may still be
        going on that day is ongoing.
    seasons
        Only attempts of these; None = all.
    species
        Only attempts of this species, by any name of the guide; None = all, also
        those whose species nobody recorded.

    Raises
    ------
    BadValue
        The day lies before the last visit, or the guide has no such species.
    """
    days = histories.visits.day
    if len(days) and day_number(on) < days.max():
        raise BadValue(f"a day not before the last visit on {day_of(days.max())}", str(on))
    rows = histories.rows
    keep = np.ones(len(rows), bool)
    seen = histories.seen
    checked_at = seen["looked"].copy()
    if seasons is not None:
        keep &= np.isin(rows[:, c.SEASON], list(seasons))
        checked_at &= np.isin(seen["season"], list(seasons))
    if species is not None:
        common = histories.guide.find(species).common
        names = histories.visits.species_names
        code = names.index(common) if common in names else len(names)
        keep &= rows[:, c.SPECIES] == code
    chosen = np.flatnonzero(keep)
    pairs = np.column_stack([histories.visits.box, seen["season"]])[checked_at]
    fate = histories.fates(on)[chosen]
    limits = histories.limits[rows[chosen, c.SPECIES] + 1]
    return SeasonTable(
        boxes=histories.visits.boxes,
        species_names=histories.visits.species_names,
        attempt=chosen,
        rows=rows[chosen],
        number=histories.numbers[chosen],
        limits=limits,
        fate=fate,
        intervals=_intervals(histories, chosen, fate, limits),
        checked=np.unique(pairs.astype(np.int64), axis=0).reshape(-1, 2),
    )


def watched_from(rows: NDArray[np.int32]) -> NDArray[np.int64]:
    """First day on which eggs or young were known; far ahead where none ever were."""
    days = rows[:, [c.EGG_DAY, c.YOUNG_DAY]].astype(np.int64)
    first: NDArray[np.int64] = np.where(days == c.MISSING, -c.MISSING, days).min(axis=1)
    return np.where(rows[:, c.LAID] == 1, first, -c.MISSING)


def expected_hatch(rows: NDArray[np.int32], limits: NDArray[np.int32]) -> NDArray[np.int64]:
    """Day of hatching: the best one where young were seen, else from the end of laying.

    Eggs seen without young had not hatched by that day.
    """
    sitting = (limits[:, c.INCUBATION_LEAST] + limits[:, c.INCUBATION_MOST]) // 2
    from_laying = np.maximum(rows[:, c.COMPLETE] + sitting, rows[:, c.NO_YOUNG_DAY] + 1)
    return np.where(rows[:, c.HATCH] != c.MISSING, rows[:, c.HATCH], from_laying).astype(np.int64)


def expected_fledging(rows: NDArray[np.int32], limits: NDArray[np.int32]) -> NDArray[np.int64]:
    """Day of fledging: hatching and the middle of the guide's nestling period."""
    stay = (limits[:, c.NESTLING_LEAVES] + limits[:, c.NESTLING_MOST]) // 2
    return expected_hatch(rows, limits) + stay


def _intervals(
    histories: Histories,
    chosen: NDArray[np.int64],
    fate: NDArray[np.int32],
    limits: NDArray[np.int32],
) -> Intervals:
    rows = histories.rows[chosen]
    hatch = expected_hatch(rows, limits)
    begins = watched_from(rows)
    alive = rows[:, c.ALIVE_DAY].astype(np.int64)

    # Every look that found the nest alive, as pairs of nest and day.
    place = np.full(len(histories.rows) + 1, -1, np.int64)
    place[chosen] = np.arange(len(chosen))
    nest = place[histories.visit_attempt]
    nest, day = nest[nest >= 0], histories.visits.day[nest >= 0].astype(np.int64)
    watched = (day >= begins[nest]) & (day <= alive[nest])
    nest, day = nest[watched], day[watched]
    new_day = _begins(nest) | _begins(day)
    nest, day = nest[new_day], day[new_day]
    first = _begins(nest)

    # From each look to the next, and from the last to the nest's end.
    end, lost_at_end = _ends(rows, limits, fate)
    last = np.roll(first, -1)
    following = np.where(last, end[nest], np.roll(day, -1))
    lost = last & lost_at_end[nest]

    # A clutch that never hatched: lost in the interval in which it should have.
    overdue = (lost_at_end & (rows[:, c.WHY] == c.WHY_OVERDUE))[nest]
    due = (rows[:, c.COMPLETE] + limits[:, c.INCUBATION_MOST])[nest]
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
    rows: NDArray[np.int32], limits: NDArray[np.int32], fate: NDArray[np.int32]
) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Last day of watching of each nest, and whether the nest was lost by it."""
    alive, over = rows[:, c.ALIVE_DAY].astype(np.int64), rows[:, c.OVER_DAY].astype(np.int64)
    seen_over = over != c.MISSING
    lost = (fate == c.FATE_FAILED) & (rows[:, c.CAUSE] != c.NEST_REMOVED) & seen_over
    cold = (rows[:, c.WHY] == c.WHY_COLD) & (rows[:, c.COLD_RUN] > 0)
    found = np.where(cold, rows[:, c.COLD_DAY], over)
    # A loss takes a day at least, even where two looks fell on one day.
    window = np.maximum(np.minimum(found, expected_fledging(rows, limits)), alive + 1)
    fledged = (fate == c.FATE_FLEDGED) & seen_over
    end = np.where(lost, window, np.where(fledged, rows[:, c.END], alive))
    return end, lost
