"""A round as numbers: times between stops, and what each stop asks for."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

SLACK = 1e-6
"""Minutes by which a limit may be passed: rounding, not lateness."""


@dataclass(frozen=True)
class ProblemArrays:
    """What the solvers see. Times are minutes; clock times count from leaving.

    Attributes
    ----------
    minutes
        Shape (n + 2, n + 2): walking from row to column, where 0 is the start, 1 to n
        the stops and n + 1 the end.
    service, urgency, opens, closes
        Per place of `minutes`: minutes spent there, worth of a visit, and the times
        between which a visit may begin (-inf and inf where it does not matter).
    budget
        Minutes that each walker has, infinite where there is no limit.
    walkers
        How many people share the stops.
    """

    minutes: Floats
    service: Floats
    urgency: Floats
    opens: Floats
    closes: Floats
    budget: float
    walkers: int

    @property
    def stops(self) -> int:
        return len(self.minutes) - 2

    @property
    def end(self) -> int:
        return len(self.minutes) - 1

    @cached_property
    def walkable(self) -> Floats:
        """`minutes` with more than any walk takes where there is no way, for sums and means."""
        there = np.isfinite(self.minutes)
        return np.where(there, self.minutes, (self.minutes[there].max() + 1.0) * len(there))

    @property
    def broken(self) -> bool:
        """Whether some stop cannot follow some other: one-way paths may part them."""
        return not np.isfinite(self.minutes[:-1, 1:]).all()

    def fits(self, order: Sequence[int]) -> bool:
        """Whether a walker can make these stops in this order within the budget."""
        minutes = self.finish(order)
        return bool(np.isfinite(minutes) and minutes <= self.budget + SLACK)

    @property
    def timed(self) -> bool:
        """Whether any stop has hours."""
        return bool(np.isfinite(self.opens).any() or np.isfinite(self.closes).any())

    @property
    def may_leave_out(self) -> bool:
        """Whether a plan may have to leave out stops: for time, hours or one-way paths."""
        return bool(np.isfinite(self.budget)) or self.timed or self.broken

    def finish(self, order: Sequence[int]) -> float:
        """When a walker who makes these stops in this order is back.

        0 for no stops; infinite if a stop's hours are missed or no way leads to it.
        """
        if len(order) == 0:
            return 0.0
        now, here = 0.0, 0
        for stop in order:
            now = max(now + float(self.minutes[here, stop]), float(self.opens[stop]))
            if now > self.closes[stop] + SLACK:
                return float("inf")
            now += float(self.service[stop])
            here = stop
        return now + float(self.minutes[here, self.end])

    def worth(self, stops: Iterable[int]) -> float:
        """Sum of the urgency of some stops."""
        return float(sum(self.urgency[stop] for stop in stops))


@dataclass(frozen=True)
class Shifts:
    """Walks that differ: the minutes of each, and which stops each may make.

    `allowed` has shape (walks, places of the problem's arrays).
    """

    minutes: Floats
    allowed: NDArray[np.bool_]


Orders = tuple[tuple[int, ...], ...]
"""For each walker the stops in order; may be empty."""


def merit(arrays: ProblemArrays, orders: Orders) -> tuple[float, float, float]:
    """What a plan is judged by, smaller being better: worth missed, longest walk, total.

    A plan that cannot be walked is worth nothing.
    """
    finishes = [arrays.finish(order) for order in orders]
    if np.isinf(finishes).any():
        return (0.0, float("inf"), float("inf"))
    done = arrays.worth(stop for order in orders for stop in order)
    return (round(-done, 6), round(max(finishes), 6), round(sum(finishes), 6))
