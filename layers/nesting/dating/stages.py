"""The days on which the stages of each attempt begin, and on which it ends.

Best days of `dates`; where an event could not be dated, the day by which visits show it. What
was not seen to be over is taken to go on until it has lasted longer than a nest can.
"""

from __future__ import annotations

from datetime import date

import numpy as np
from numpy.typing import NDArray

from layers.nesting import attempt_columns as c
from layers.nesting.dating import terms as t
from layers.nesting.dating.dates import Dates
from layers.nesting.histories import Histories
from layers.trail.coding import day_number, day_of
from layers.trail.words import STAGES

START, EGG, COMPLETE, HATCH, END, N_DAYS = range(6)
"""Columns of `stage_days`; but for the first, an event each."""

EVERY = slice(None)


def stage_days(histories: Histories, dates: Dates, *, among: slice = EVERY) -> NDArray[np.int32]:
    """A row of days since 1970-01-01 for each attempt: `attempt_columns.MISSING` where it has no
    such day.

    A brood has a day of hatching where young were seen, or are known to have fledged.
    """
    rows = histories.rows[among]
    best = dates.best_days(among)
    laid = rows[:, c.PHASE] >= c.EGGS
    young = rows[:, c.PHASE] == c.YOUNG
    hatched = young | (rows[:, c.FATE] == c.FATE_FLEDGED)
    days = np.full((len(rows), N_DAYS), c.MISSING, np.int32)
    days[:, EGG] = _known(best[:, t.FIRST_EGG], _first_seen(rows), where=laid)
    days[:, COMPLETE] = _known(best[:, t.COMPLETE], rows[:, c.FULL_DAY], where=laid)
    days[:, HATCH] = _known(
        best[:, t.HATCH], np.where(young, rows[:, c.YOUNG_DAY], c.MISSING), where=hatched
    )
    days[:, START] = rows[:, c.FIRST_DAY]
    days[laid, START] = np.minimum(days[laid, START], days[laid, EGG])
    days[:, END] = _ends(rows, best, dates.fledged[among])
    return days


def _known(
    best: NDArray[np.int64], seen_by: NDArray[np.int32], *, where: NDArray[np.bool_]
) -> NDArray[np.int64]:
    return np.where(where, np.where(best == c.MISSING, seen_by, best), c.MISSING)


def _first_seen(rows: NDArray[np.int32]) -> NDArray[np.int32]:
    """First day on which eggs, a parent sitting on them, or young were seen."""
    eggs = np.where(rows[:, c.EGG_DAY] == c.MISSING, rows[:, c.FULL_DAY], rows[:, c.EGG_DAY])
    young = rows[:, c.YOUNG_DAY]
    earlier = (young != c.MISSING) & ((eggs == c.MISSING) | (young < eggs))
    return np.where(earlier, young, eggs)


def _ends(
    rows: NDArray[np.int32], best: NDArray[np.int64], fledged: NDArray[np.float64]
) -> NDArray[np.int64]:
    """The day of fledging or of the loss, by the fate; by the likelier of them where that is
    unknown.
    """
    seen_over = rows[:, c.OVER_DAY] != c.MISSING
    fate = np.where(rows[:, c.FATE] == c.ONGOING, rows[:, c.LATER_FATE], rows[:, c.FATE])
    left = (fate == c.FATE_FLEDGED) | ((fate == c.FATE_UNKNOWN) & (fledged >= 0.5))
    end = np.where(left, best[:, t.FLEDGE], best[:, t.FAILURE])
    dated = (end != c.MISSING) & (seen_over | (fate == c.FATE_FLEDGED))
    return np.where(dated, end, np.where(seen_over, rows[:, c.OVER_DAY], rows[:, c.LAPSES]))


def stages_on(
    histories: Histories, dates: Dates, on: date, *, among: slice = EVERY
) -> NDArray[np.int32]:
    """Stage of each attempt on a day, as positions in `words.STAGES`; -1 = not begun."""
    day, days = day_number(on), stage_days(histories, dates, among=among)
    over = histories.fates(on, among=among) != c.ONGOING
    return _stages(days, np.full(len(days), day), over)


def stages_at_visits(histories: Histories, dates: Dates) -> NDArray[np.int32]:
    """Stage of the nest on the day of each visit, as positions in `words.STAGES`; -1 = no nest."""
    own = histories.visit_attempt
    # The last row serves visits that belong to no nest.
    none = np.full((1, N_DAYS), c.MISSING, np.int32)
    days = np.concatenate([stage_days(histories, dates), none])[own]
    over = np.append(histories.rows[:, c.OVER_DAY] != c.MISSING, False)[own]
    stages = _stages(days, histories.visits.day, over)
    stages[histories.visit_stage == c.STAGE_OVER] = c.STAGE_OVER
    stages[own < 0] = -1
    return stages


def _stages(
    days: NDArray[np.int32], on: NDArray[np.int32], over: NDArray[np.bool_]
) -> NDArray[np.int32]:
    """The stage of each row of `stage_days` on a day of its own; `over` may be past its end."""
    stage = np.full(len(days), -1, np.int32)
    for column, code in _STAGES:
        stage[(days[:, column] != c.MISSING) & (on >= days[:, column])] = code
    stage[(stage >= 0) & over & (on >= days[:, END])] = c.STAGE_OVER
    return stage


def stage_bar(
    histories: Histories, dates: Dates, attempt: int, *, on: date
) -> list[dict[str, str]]:
    """The stages of one attempt up to a day, for a season bar.

    Returns
    -------
    list of dict
        `from`, `to` (ISO days, `to` excluded) and `stage`, in order, without gaps.
    """
    among = slice(attempt, attempt + 1)
    (days,) = stage_days(histories, dates, among=among).tolist()
    (fate,) = histories.fates(on, among=among)
    end = day_number(on) + 1
    if fate != c.ONGOING:
        end = min(end, days[END])
    steps = [(days[column], STAGES[code]) for column, code in _STAGES if days[column] != c.MISSING]
    edges = [day for day, _ in steps[1:]] + [end]
    return [
        {
            "from": day_of(begin).isoformat(),
            "to": day_of(min(until, end)).isoformat(),
            "stage": stage,
        }
        for (begin, stage), until in zip(steps, edges, strict=True)
        if begin < min(until, end)
    ]


_STAGES = (
    (START, c.STAGE_BUILDING),
    (EGG, c.STAGE_LAYING),
    (COMPLETE, c.STAGE_INCUBATING),
    (HATCH, c.STAGE_NESTLINGS),
)
