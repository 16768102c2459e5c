"""What visits counted of the young of each attempt, and how fast broods shrink."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layers.nesting import attempt_columns as c
from layers.nesting.histories import Histories


@dataclass(frozen=True)
class BroodCounts:
    """Counts of living young, one of each attempt.

    Attributes
    ----------
    last, last_day
        At the last count, and its day since 1970-01-01; -1 and `MISSING` where never counted.
    dead_at_end
        Dead young in the nest when it was found over.
    lost, young_days
        Young that vanished or died between two counts of the living brood, and how many days all
        its young together lived between them.
    """

    last: NDArray[np.int64]
    last_day: NDArray[np.int64]
    dead_at_end: NDArray[np.int64]
    lost: NDArray[np.int64]
    young_days: NDArray[np.float64]

    def take(self, keep: NDArray[np.bool_]) -> BroodCounts:
        """Those of the attempts that a mask chooses."""
        return BroodCounts(**{name: values[keep] for name, values in vars(self).items()})

    @property
    def daily_loss(self) -> float:
        """Chance a day that one young of a living brood dies alone; 0 if none was counted twice."""
        days = float(self.young_days.sum())
        return min(max(float(self.lost.sum()), 0.0) / days, 1.0) if days > 0 else 0.0


def brood_counts(histories: Histories, attempts: NDArray[np.int64]) -> BroodCounts:
    """The counts of some attempts, positions in the histories."""
    seen, own, day = histories.observations, histories.visit_attempt, histories.visits.day
    rows = histories.rows[attempts]
    place = np.full(len(histories) + 1, -1, np.int64)
    place[attempts] = np.arange(len(attempts))
    nest = place[own]
    # Eggs beside the young may still hatch: the brood is not whole yet.
    counted = np.flatnonzero((nest >= 0) & seen["looked"] & (seen["young"] > 0))
    size = len(attempts)
    lost, young_days = np.zeros(size, np.int64), np.zeros(size)
    before, after = counted[:-1], counted[1:]
    whole = (nest[before] == nest[after]) & (seen["eggs"][before] <= 0)
    before, after = before[whole], after[whole]
    first, second = seen["young"][before].astype(np.int64), seen["young"][after].astype(np.int64)
    np.add.at(lost, nest[before], first - second)
    np.add.at(young_days, nest[before], (first + second) / 2 * (day[after] - day[before]))
    dead = np.where(rows[:, c.OVER] >= 0, seen["dead"][np.maximum(rows[:, c.OVER], 0)], 0)
    return BroodCounts(
        np.where(rows[:, c.YOUNG_LAST] > 0, rows[:, c.YOUNG_LAST], -1).astype(np.int64),
        rows[:, c.YOUNG_LAST_DAY].astype(np.int64),
        np.maximum(dead, 0).astype(np.int64),
        lost,
        young_days,
    )
