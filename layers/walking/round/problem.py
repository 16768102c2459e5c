"""A round as it is to be planned: places, minutes, hours and limits."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass

from layers.errors import BadValue
from layers.walking.network.attach import PATHS_ALONE, Site
from layers.walking.network.barriers import Barrier
from layers.walking.network.graph import Network
from layers.walking.network.open_ground import OpenGround
from layers.walking.round.breaks import NO_BREAKS, Breaks
from layers.walking.round.clock import DAY_MINUTES, clock

MAX_WALKERS = 20
"""More people than any trail sends out; a larger number is a mistake."""


@dataclass(frozen=True)
class StopRequest:
    """One box to visit.

    Attributes
    ----------
    box
        Its id.
    minutes
        Time spent there.
    urgency
        Worth of the visit, above 0: what does not fit the time is left out by this.
    opens_at, closes_at
        Minutes after midnight between which the visit may begin; None for no limit.
    watch_only
        Whether it is watched from the path and not walked up to.
    section
        The section of the trail that it is in; empty for none.
    """

    box: str
    lon: float
    lat: float
    minutes: float = 5.0
    urgency: float = 1.0
    opens_at: float | None = None
    closes_at: float | None = None
    watch_only: bool = False
    section: str = ""

    def __post_init__(self) -> None:
        if not 0.0 <= self.minutes <= DAY_MINUTES:
            raise BadValue(f"minutes at {self.box} from 0 to a day", repr(self.minutes))
        if not (self.urgency > 0.0 and math.isfinite(self.urgency)):
            raise BadValue(f"an urgency of {self.box} above 0", repr(self.urgency))
        for moment in (self.opens_at, self.closes_at):
            if moment is not None and not 0.0 <= moment <= DAY_MINUTES:
                raise BadValue(f"a time of day for {self.box} in minutes", repr(moment))
        opens_at, closes_at = self.opens_at, self.closes_at
        if opens_at is not None and closes_at is not None and opens_at > closes_at:
            raise BadValue(
                f"hours of {self.box} that begin before they end",
                f"{clock(opens_at)} to {clock(closes_at)}",
            )


@dataclass(frozen=True)
class RoundProblem:
    """What a round has to do.

    Attributes
    ----------
    network
        From `build_network`; without edges all legs are straight.
    requests
        Boxes to visit, each once.
    start, end
        Where the walk begins and ends; it comes back to its start where `end` is None.
    barriers
        What no leg off the path crosses.
    open_ground
        Where walkers may leave the paths.
    barred_by
        Zones through which paths lead that no round takes, as sentences call them.
    hazards
        Places that a warning names where the round comes near them.
    budget_minutes
        Time that each walker has, None where there is no limit.
    walkers
        How many people share the boxes.
    leave_at
        Minutes after midnight at which they set out.
    keep_order
        Whether one walker visits the boxes in the order of `requests`, boxes back to back
        at the first of them: a walk that was planned before keeps its numbers. One waits
        for hours to begin; their end and the budget leave no box out.
    like
        Boxes in the order of an earlier round, which one walker walks again where little
        changed and it takes hardly longer; empty for none.
    breaks
        Breaks that each walker takes; they count in the budget and in the hours.
    """

    network: Network
    requests: tuple[StopRequest, ...]
    start: Site | None
    end: Site | None = None
    barriers: tuple[Barrier, ...] = ()
    open_ground: OpenGround = PATHS_ALONE
    barred_by: tuple[str, ...] = ()
    hazards: tuple[Site, ...] = ()
    budget_minutes: float | None = None
    walkers: int = 1
    leave_at: float = 8 * 60.0
    keep_order: bool = False
    like: tuple[str, ...] = ()
    breaks: Breaks = NO_BREAKS

    def __post_init__(self) -> None:
        if self.budget_minutes is not None and not 0.0 < self.budget_minutes <= DAY_MINUTES:
            raise BadValue(
                f"more than 0 minutes for a round and at most a day ({DAY_MINUTES:.0f}), or none"
                " for no limit",
                repr(self.budget_minutes),
                column="minutes",
            )
        if not 1 <= self.walkers <= MAX_WALKERS:
            raise BadValue(f"1 to {MAX_WALKERS} walkers", repr(self.walkers))
        if self.keep_order and self.walkers > 1:
            raise BadValue("one walker for boxes in the order given", f"{self.walkers} walkers")
        if not 0.0 <= self.leave_at <= DAY_MINUTES:
            raise BadValue("a time of day to leave at, in minutes", repr(self.leave_at))
        counts = Counter(request.box for request in self.requests)
        if twice := [box for box, count in counts.items() if count > 1]:
            raise BadValue("each box once", ", ".join(twice), column="box")
