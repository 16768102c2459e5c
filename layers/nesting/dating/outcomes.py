"""How each attempt ended, where its visits alone do not decide: by its chance of fledging.

The rules of `reading/fates.py` decide from what was seen. Where they leave a nest with eggs
unknown, the sum over all courses may know better: an empty nest at an age at which nearly
every brood has left.
"""

from __future__ import annotations

from datetime import date

import numpy as np
from numpy.typing import NDArray

from layers.nesting import attempt_columns as c
from layers.nesting.dating.dates import Dates
from layers.nesting.histories import Histories

CERTAIN, PROBABLE = 0.95, 0.8
"""Chances from which an outcome counts as decided, and from which it is called probable (our own
choice, no source)."""


def final_fates(
    histories: Histories, dates: Dates, *, among: slice = slice(None)
) -> NDArray[np.int32]:
    """Positions in `words.FATES` of how attempts ended, or will have without a later look."""
    rows = histories.rows[among]
    fates = np.where(rows[:, c.FATE] == c.ONGOING, rows[:, c.LATER_FATE], rows[:, c.FATE])
    # "No eggs", and the young not recorded: it may go on with young, which no chance here counts.
    empty = (rows[:, c.OVER] < 0) | histories.observations["no_young"][rows[:, c.OVER]]
    empty |= np.isin(rows[:, c.WHY], (c.WHY_GAP, c.WHY_RELAID))
    undecided = (fates == c.FATE_UNKNOWN) & (rows[:, c.PHASE] >= c.EGGS) & empty
    chance = np.where(undecided, dates.fledged[among], np.nan)
    by_chance = (
        (chance >= CERTAIN, c.FATE_FLEDGED),
        (chance >= PROBABLE, c.FATE_PROBABLY_FLEDGED),
        (chance <= 1 - CERTAIN, c.FATE_FAILED),
        (chance <= 1 - PROBABLE, c.FATE_PROBABLY_FAILED),
    )
    found = np.select([likely for likely, _ in by_chance], [code for _, code in by_chance], fates)
    return found.astype(np.int32)


def fates_on(
    histories: Histories, dates: Dates, on: date, *, among: slice = slice(None)
) -> NDArray[np.int32]:
    """Positions in `words.FATES` as known on a day; `histories` and `dates` as known on it."""
    ongoing = histories.fates(on, among=among) == c.ONGOING
    return np.where(ongoing, c.ONGOING, final_fates(histories, dates, among=among))
