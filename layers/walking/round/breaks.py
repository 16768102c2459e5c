"""Breaks on a round: some minutes after every so many minutes of walking and visiting.

Breaks are planned in minutes without them. A break falls due so long after the walk began or
the last break ended, whether one walked, visited or waited; it is taken on the way, never at an
open box. So each moment without breaks has one moment with them, limits and hours are turned
into minutes without breaks once, and every search and every bound runs as if there were none.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from layers.errors import BadValue
from layers.walking.round.clock import DAY_MINUTES, clock

SLIGHTLY = 1e-5
"""Minutes before a break falls due where a limit ends within it: above the solvers' slack."""


@dataclass(frozen=True)
class Breaks:
    """Breaks of `minutes`, each after `after` minutes; none where `minutes` is 0.

    Raises
    ------
    BadValue
        `minutes` is not from 0 to a day, or `after` not from 1 to a day.
    """

    minutes: float = 0.0
    after: float = 120.0

    def __post_init__(self) -> None:
        if not 0.0 <= self.minutes <= DAY_MINUTES:
            raise BadValue("0 minutes for a break to a day", repr(self.minutes), column="break")
        if not 1.0 <= self.after <= DAY_MINUTES:
            raise BadValue("1 minute before a break to a day", repr(self.after), column="break")

    def due(self, minutes: float) -> int:
        """How many breaks fell due in so many minutes without them."""
        # Sums of minutes are a little off: a break due on arrival is taken before the visit.
        return math.floor(minutes / self.after + 1e-9) if self.minutes else 0

    def clock(self, minutes: float) -> float:
        """Minutes since leaving, breaks among them, from minutes without breaks.

        Examples
        --------
        >>> Breaks(30.0, after=120.0).clock(150.0)
        180.0
        """
        if not self.minutes or not math.isfinite(minutes):
            return minutes
        return minutes + self.minutes * self.due(minutes)

    def latest(self, clock: float) -> float:
        """The most minutes without breaks after which it is not later than `clock`."""
        if not self.minutes or not math.isfinite(clock) or clock <= 0.0:
            return clock
        whole, rest = divmod(clock, self.after + self.minutes)
        return whole * self.after + min(rest, self.after - SLIGHTLY)

    def earliest(self, clock: float) -> float:
        """The fewest minutes without breaks after which it is not earlier than `clock`."""
        if not self.minutes or not math.isfinite(clock) or clock <= 0.0:
            return clock
        whole, rest = divmod(clock, self.after + self.minutes)
        return whole * self.after + min(rest, self.after)


NO_BREAKS = Breaks()


@dataclass(frozen=True)
class Rest:
    """A break on the way to a stop or to the end: the time of day it begins, and its minutes."""

    begins_at: float
    minutes: float

    def __str__(self) -> str:
        return f"{self.minutes:g} min from {clock(self.begins_at)}"


def rest_on_the_way(
    breaks: Breaks, *, begun: float, left: float, arrives: float, leave_at: float
) -> Rest | None:
    """The break between two stops, None for none.

    Parameters
    ----------
    begun, left, arrives
        Minutes without breaks at which the visit before began and ended, and the next stop is
        reached.
    leave_at
        Minutes after midnight at which the walk began.
    """
    before = breaks.due(begun)
    count = breaks.due(arrives) - before
    if count <= 0:
        return None
    at = max((before + 1) * breaks.after, left) + before * breaks.minutes
    return Rest(leave_at + at, count * breaks.minutes)
