"""A round as it is requested, and its hours read from text."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Literal

from layers.errors import BadValue, NotKnown
from layers.trail.words import nearest_words
from layers.walking.pace import NORMAL, Pace
from layers.walking.round import RoundProblem, StopRequest
from layers.walking.round.breaks import NO_BREAKS, Breaks
from layers.walking.round.clock import clock

Sample = Literal["due", "all", "section", "boxes"]


@dataclass(frozen=True)
class Window:
    """Hours between which the visit to one box may begin, in minutes after midnight.

    None where it may begin at any time before, or after.
    """

    box: str
    opens_at: float | None
    closes_at: float | None

    def __str__(self) -> str:
        ends = ("" if at is None else clock(at) for at in (self.opens_at, self.closes_at))
        return f"{self.box}={'-'.join(ends)}"


@dataclass(frozen=True)
class RoundRequest:
    """A round as it is requested.

    Attributes
    ----------
    on
        The day it is walked.
    which
        "due" for the due list, "all" for every box in place, "section" or "boxes" for
        those of `names`.
    start, end
        Names of places; None stands for the trail's first start, and for back at the start.
    keep_order
        Whether the boxes of `names` are visited in that order, as they were planned before.
    budget_minutes
        Time that each walker has; None = no limit.
    stop_minutes
        Time for a look inside one box.
    leave_at
        Minutes after midnight.
    windows
        Boxes that may be visited between some hours only.
    like
        Boxes in the order of an earlier round, which is walked again where little changed.
    breaks
        Breaks that each walker takes, within the time limit.
    """

    on: date
    which: Sample = "due"
    names: tuple[str, ...] = ()
    keep_order: bool = False
    start: str | None = None
    end: str | None = None
    budget_minutes: float | None = None
    walkers: int = 1
    pace: Pace = NORMAL
    stop_minutes: float = StopRequest.minutes
    leave_at: float = RoundProblem.leave_at
    windows: tuple[Window, ...] = ()
    like: tuple[str, ...] = ()
    breaks: Breaks = NO_BREAKS


def known(query: str, names: Iterable[str], what: str) -> str:
    """The name that is meant, in any case; `NotKnown` says `what` it is and names the nearest."""
    among = dict.fromkeys(names)
    found = query if query in among else {n.casefold(): n for n in among}.get(query.casefold())
    if found is None:
        close = nearest_words(query, among)
        hint = f" (nearest: {', '.join(close)})" if close else ""
        raise NotKnown(f"Expected {what}{hint}, got {query!r}")
    return found


def read_time(text: str, *, column: str) -> float:
    """A time of day such as `08:30` as minutes after midnight."""
    found = re.fullmatch(r"([01]?\d|2[0-3]):([0-5]\d)", text.strip())
    if found is None:
        raise BadValue("a time of day like 08:30", repr(text), column=column)
    return 60.0 * int(found[1]) + int(found[2])


def read_windows(texts: Iterable[str], ids: Iterable[str]) -> tuple[Window, ...]:
    """Hours of boxes from texts such as `M05=08:00-10:00`, `M05=-10:00` or several with commas.

    Raises
    ------
    BadValue
        A text is not of that form, or names a box a second time.
    NotKnown
        There is no such box.
    """
    names = tuple(ids)
    windows: dict[str, Window] = {}
    for part in (part.strip() for text in texts for part in re.split(r"[,;\n]", text)):
        if not part:
            continue
        found = re.fullmatch(r"(.+?)[=\s]\s*([\d:]*)\s*-\s*([\d:]*)", part)
        if found is None or not (found[2] or found[3]):
            raise BadValue("a box and its hours like M05=08:00-10:00", repr(part), column="window")
        box = known(found[1].strip(), names, "the id of a box")
        if box in windows:
            raise BadValue(f"the hours of {box} once", repr(part), column="window")
        opens, closes = (
            read_time(text, column="window") if text else None for text in found.group(2, 3)
        )
        windows[box] = Window(box, opens, closes)
    return tuple(windows.values())
