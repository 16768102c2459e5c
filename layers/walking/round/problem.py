"""What a round is asked to do."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field

from layers.errors import BadValue
from layers.walking.network.attach import Spot
from layers.walking.network.barriers import Barrier
from layers.walking.network.graph import Network

DAY_MINUTES = 24 * 60.0

MOST_WALKERS = 20
"""More people than any trail sends out; a larger number is a mistake."""


@dataclass(frozen=True)
class Call:
    """One box to be seen.

    Attributes
    ----------
    box
        Its id.
    minutes
        Time spent there.
    urgency
        Worth of seeing it, above 0: what does not fit the time is left out by this.
    after, before
        Minutes after midnight between which the visit may begin; None where any time
        will do.
    look
        Whether it is looked at from the path and not walked up to.
    """

    box: str
    lon: float
    lat: float
    minutes: float = 5.0
    urgency: float = 1.0
    after: float | None = None
    before: float | None = None
    look: bool = False

    def __post_init__(self) -> None:
        if not 0.0 <= self.minutes <= DAY_MINUTES:
            raise BadValue(f"minutes at {self.box} from 0 to a day", repr(self.minutes))
        if not (self.urgency > 0.0 and math.isfinite(self.urgency)):
            raise BadValue(f"an urgency of {self.box} above 0", repr(self.urgency))
        for moment in (self.after, self.before):
            if moment is not None and not 0.0 <= moment <= DAY_MINUTES:
                raise BadValue(f"a time of day for {self.box} in minutes", repr(moment))
        if self.after is not None and self.before is not None and self.after > self.before:
            raise BadValue(
                f"hours of {self.box} that begin before they end",
                f"{clock(self.after)} to {clock(self.before)}",
            )


@dataclass(frozen=True)
class Problem:
    """What a round is asked to do.

    Attributes
    ----------
    network
        From `build_network`; without edges all legs are straight.
    calls
        Boxes to be seen, each once.
    start, end
        Where the walk begins and ends; it comes back to its start where `end` is None.
    barriers
        What no leg off the path crosses.
    hazards
        Places that a warning names where the round comes near them.
    budget_minutes
        Time that each walker has, None where there is no limit.
    walkers
        How many people share the boxes.
    leave_at
        Minutes after midnight at which they set out.
    keep_order
        Whether one walker visits the boxes in the order of `calls`, boxes back to back
        at the first of them: a walk that was planned before keeps its numbers. One waits
        for hours to begin; their end and the budget leave no box out.
    """

    network: Network
    calls: tuple[Call, ...]
    start: Spot | None
    end: Spot | None = None
    barriers: tuple[Barrier, ...] = ()
    hazards: tuple[Spot, ...] = ()
    budget_minutes: float | None = None
    walkers: int = 1
    leave_at: float = 8 * 60.0
    keep_order: bool = False

    def __post_init__(self) -> None:
        if self.budget_minutes is not None and not self.budget_minutes > 0.0:
            raise BadValue("more than 0 minutes for a round", repr(self.budget_minutes))
        if not 1 <= self.walkers <= MOST_WALKERS:
            raise BadValue(f"1 to {MOST_WALKERS} walkers", repr(self.walkers))
        if self.keep_order and self.walkers > 1:
            raise BadValue("one walker for boxes in the order given", f"{self.walkers} walkers")
        if not 0.0 <= self.leave_at <= DAY_MINUTES:
            raise BadValue("a time of day to leave at, in minutes", repr(self.leave_at))
        twice = [
            box for box, count in Counter(call.box for call in self.calls).items() if count > 1
        ]
        if twice:
            raise BadValue("each box once", ", ".join(twice), column="box")


def _never() -> bool:
    return False


@dataclass(frozen=True)
class Progress:
    """How far a plan has come.

    `share` of the work done, from 0 to 1, and the longest walk of the best plan so far.
    """

    share: float
    minutes: float


@dataclass(frozen=True)
class Stopping:
    """When to be content.

    Attributes
    ----------
    steps
        Steps of the search, None for as many as suit the number of stops. Counted, so
        that a plan is the same on every machine.
    asked
        Says whether somebody wants the best plan so far; asked now and then.
    """

    steps: int | None = None
    asked: Callable[[], bool] = field(default=_never)


def clock(minutes: float) -> str:
    """Minutes after midnight as hours and minutes, such as "09:05"; past midnight goes on."""
    whole = round(minutes)
    return f"{whole // 60 % 24:02d}:{whole % 60:02d}"
