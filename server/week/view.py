"""A week planned: boxes that are due shared out among the days and minutes that walkers have."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from icalendar import Calendar, Event

from layers.errors import BadValue
from layers.nesting.due import LEAVE, OPEN, Due
from layers.walking.pace import NORMAL, Pace
from layers.walking.round import LeftOut
from layers.walking.round.breaks import NO_BREAKS, Breaks
from layers.walking.round.clock import DAY_MINUTES, clock
from layers.walking.round.shifts import NO_SHIFT, Shift, share_out
from layers.words import format_day
from server.live.clock import Clock, utc_now
from server.live.contents import Contents
from server.live.days import read_day
from server.rounds.planning import (
    WORTH,
    Planned,
    minutes_at,
    planned,
    problem_of,
    stop_requests,
)
from server.rounds.request import RoundRequest
from server.rounds.view import walk_query

DAYS = 7

MAX_SHIFTS = 60
"""More walks in a week than any trail sees; a larger number is a mistake."""

MAX_SECONDS = 20.0
"""A search for a better week ends after this; the best so far is given."""

WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


@dataclass(frozen=True)
class FreeTime:
    """Minutes that one walker has on one day."""

    walker: str
    on: date
    minutes: float


@dataclass(frozen=True)
class WeekRequest:
    """A week as it is requested.

    Attributes
    ----------
    on
        Its first day; what is due is read as known then.
    free
        Who has time when.
    reserve
        Rain days: used only where another day falls out.
    without
        Days that fell out.
    """

    on: date
    free: tuple[FreeTime, ...]
    reserve: tuple[date, ...] = ()
    without: tuple[date, ...] = ()
    start: str | None = None
    pace: Pace = NORMAL
    stop_minutes: float = RoundRequest.stop_minutes
    leave_at: float = RoundRequest.leave_at
    breaks: Breaks = NO_BREAKS

    @property
    def days(self) -> tuple[date, ...]:
        return tuple(self.on + timedelta(days=number) for number in range(DAYS))

    @property
    def used(self) -> tuple[FreeTime, ...]:
        """The free time that is planned with: without days that fell out, and reserves in need."""
        kept = set() if any(day in self.days for day in self.without) else set(self.reserve)
        return tuple(one for one in self.free if one.on not in self.without and one.on not in kept)


@dataclass(frozen=True)
class WeekWalk:
    """One walk of the week; `query` opens it again as it was planned."""

    walker: str
    on: date
    free_minutes: float
    round: Planned
    boxes: tuple[str, ...]
    query: str

    @property
    def breaks(self) -> tuple[str, ...]:
        """When its breaks are, such as "Break of 30 min from 10:02"."""
        legs = (leg for walk in self.round.round.walks for leg in walk.legs)
        return tuple(f"Break of {leg.rest}" for leg in legs if leg.rest is not None)


@dataclass(frozen=True)
class Missed:
    """A due box that no walk visits; `until` is the last day on which a visit serves."""

    box: str
    until: date | None
    reason: str


@dataclass(frozen=True)
class Week:
    request: WeekRequest
    walks: tuple[WeekWalk, ...]
    missed: tuple[Missed, ...]
    due: int

    def json(self) -> dict[str, Any]:
        """As values for JSON; `round` is the query of the walk for `/round` and `/api/round`."""
        return {
            "on": self.request.on.isoformat(),
            "until": self.request.days[-1].isoformat(),
            "due": self.due,
            "walks": [
                {
                    "walker": walk.walker,
                    "on": walk.on.isoformat(),
                    "free_minutes": walk.free_minutes,
                    "boxes": list(walk.boxes),
                    "length_m": round(walk.round.round.length_m, 1),
                    "minutes": round(walk.round.round.minutes, 2),
                    "round": walk.query,
                }
                for walk in self.walks
            ],
            "missed": [
                {
                    "box": one.box,
                    "until": None if one.until is None else one.until.isoformat(),
                    "reason": one.reason,
                }
                for one in self.missed
            ],
            "reserve": [day.isoformat() for day in self.request.reserve],
            "without": [day.isoformat() for day in self.request.without],
        }

    def calendar(self, contents: Contents) -> bytes:
        """The walks as events of a calendar (RFC 5545), without any place."""
        calendar = Calendar()
        calendar.add("prodid", "-//Boxround//Week//EN")
        calendar.add("version", "2.0")
        zone = ZoneInfo(contents.settings.timezone)
        for walk in self.walks:
            midnight = datetime(walk.on.year, walk.on.month, walk.on.day, tzinfo=zone)
            begins = midnight + timedelta(minutes=walk.round.round.leave_at)
            event = Event()
            event.add("uid", f"{walk.on}-{walk.walker}@{contents.settings.name}")
            event.add("summary", f"{contents.settings.name}: round of {walk.walker}")
            text = "Boxes in order: " + ", ".join(walk.boxes)
            event.add("description", ". ".join((text, *walk.breaks)))
            event.add("dtstamp", utc_now())
            event.add("dtstart", begins)
            event.add("dtend", begins + timedelta(minutes=walk.round.round.minutes))
            calendar.add_component(event)
        written: bytes = calendar.to_ical()
        return written


def week_of(
    contents: Contents, wanted: WeekRequest, *, enough: Callable[[], bool] = lambda: False
) -> Week:
    """The week that is requested.

    Every box that is due on a day of the week and not to be left alone then is visited once,
    on one of those days; where time is too short the most urgent are.

    Raises
    ------
    NotKnown
        There is no place of that name to start from.
    BadValue
        There is no start, or it cannot be reached.
    """
    by_day = {day: _open_on(contents, day) for day in wanted.days}
    first: dict[str, Due] = {}
    worth: dict[str, float] = {}
    until: dict[str, date | None] = {}
    for dues in by_day.values():
        for box, one in dues.items():
            first.setdefault(box, one)
            worth[box] = max(worth.get(box, 0.0), WORTH[one.urgency])
            until[box] = one.until
    names = tuple(box for box in contents.ground.ids if box in first)
    query = RoundRequest(
        on=wanted.on,
        which="boxes",
        names=names,
        start=wanted.start,
        pace=wanted.pace,
        stop_minutes=wanted.stop_minutes,
        leave_at=wanted.leave_at,
        breaks=wanted.breaks,
    )
    if not names:
        return Week(wanted, (), (), 0)
    requests, nowhere = stop_requests(contents.ground, first, query, worth=worth)
    # On whichever day it is visited, there is time enough.
    requests = tuple(
        replace(one, minutes=max(minutes_at(dues[one.box], wanted.stop_minutes) for dues in days))
        for one in requests
        if (days := [dues for dues in by_day.values() if one.box in dues])
    )
    problem, _, _ = problem_of(contents, requests, query)
    used = wanted.used
    shifts = [Shift(one.minutes, frozenset(by_day[one.on])) for one in used]
    orders, left_out = share_out(problem, shifts, pace=wanted.pace, go_on=lambda: not enough())
    walks = [
        _walk(contents, query, one, order) for one, order in zip(used, orders, strict=True) if order
    ]
    walks.sort(key=lambda walk: (walk.on, walk.walker))
    closed = _closed(contents, {one.on for one in used})
    missed = [
        Missed(left.box, until[left.box], _reason(left, closed)) for left in (*left_out, *nowhere)
    ]
    missed.sort(key=lambda one: (one.until or date.max, one.box))
    return Week(wanted, tuple(walks), tuple(missed), len(names))


def week_once(contents: Contents, wanted: WeekRequest) -> Week:
    """What `week_of` gives, kept for these contents, the search ended by `MAX_SECONDS`."""

    def make() -> Week:
        ends_s = Clock.now_s() + MAX_SECONDS
        return week_of(contents, wanted, enough=lambda: Clock.now_s() > ends_s)

    return contents.once(("week", wanted), make)


def _open_on(contents: Contents, day: date) -> dict[str, Due]:
    """The boxes that are due on a day and may be approached then."""
    return {one.box: one for one in contents.due(day) if one.due and one.approach != LEAVE}


def _closed(contents: Contents, days: Iterable[date]) -> dict[str, str]:
    """Boxes that are not to be opened on the first of some days on which they are not; and why."""
    return {
        one.box: f"on {format_day(day)}: {one.approach_text}"
        for day in sorted(days, reverse=True)
        for one in contents.due(day)
        if one.approach != OPEN
    }


def _reason(left: LeftOut, closed: Mapping[str, str]) -> str:
    """Why a box is missed, where it is not due when walkers have time also what speaks against."""
    if left.reason == NO_SHIFT and left.box in closed:
        return f"{left.reason}; {closed[left.box]}"
    return left.reason


def _walk(
    contents: Contents, query: RoundRequest, free: FreeTime, order: tuple[str, ...]
) -> WeekWalk:
    walked = planned(
        contents,
        RoundRequest(
            on=free.on,
            which="boxes",
            names=order,
            keep_order=True,
            start=query.start,
            pace=query.pace,
            stop_minutes=query.stop_minutes,
            leave_at=query.leave_at,
            breaks=query.breaks,
        ),
    )
    return WeekWalk(free.walker, free.on, free.minutes, walked, order, walk_query(walked, order))


def read_free(texts: Iterable[str], *, on: date) -> tuple[FreeTime, ...]:
    """Free time from lines such as `Ann: Wed 180, 2026-06-06 120`, minutes on days of the week.

    Raises
    ------
    BadValue
        A line is not of that form, a day is not in the week, or is named twice for one walker.
    """
    days = _names(on)
    found: dict[tuple[str, date], FreeTime] = {}
    for line in (line.strip() for text in texts for line in re.split(r"[;\n]", text)):
        if not line:
            continue
        walker, _, rest = line.partition(":")
        if not (walker.strip() and rest.strip()):
            raise BadValue("a walker and free minutes like Ann: Wed 180, Sat 120", repr(line))
        for part in rest.split(","):
            day, minutes = _day_and_minutes(part.strip(), days)
            key = walker.strip(), day
            if key in found:
                raise BadValue(f"each day once for {key[0]}", f"{day} twice", column="free")
            found[key] = FreeTime(*key, minutes)
    if len(found) > MAX_SHIFTS:
        raise BadValue(f"at most {MAX_SHIFTS} walks in a week", str(len(found)), column="free")
    return tuple(found.values())


def _names(on: date) -> dict[str, date]:
    """The days of the week that begins on a day, by the names of weekdays."""
    days = (on + timedelta(days=number) for number in range(DAYS))
    return {WEEKDAYS[day.weekday()].casefold(): day for day in days}


def _day_and_minutes(text: str, days: Mapping[str, date]) -> tuple[date, float]:
    match = re.fullmatch(r"(\S+)\s+(\d+(?:\.\d+)?)", text)
    if match is None:
        raise BadValue("a day and minutes like Wed 180", repr(text), column="free")
    minutes = float(match[2])
    if not (0.0 < minutes <= DAY_MINUTES and math.isfinite(minutes)):
        raise BadValue("more than 0 minutes and at most a day", match[2], column="free")
    return _day(match[1], days), minutes


def _day(text: str, days: Mapping[str, date]) -> date:
    """A day of the week by its name or date."""
    day = days.get(text[:3].casefold())
    if day is None:
        try:
            day = read_day(text)
        except ValueError:
            day = None
    if day is None or day not in days.values():
        first, *_, last = sorted(days.values())
        raise BadValue(f"a day from {first} to {last}, such as Wed", repr(text), column="free")
    return day


def week_days(texts: Iterable[str], *, on: date) -> tuple[date, ...]:
    """Days of a week from their names or dates, each text one or several with commas."""
    days = _names(on)
    parts = (part.strip() for text in texts for part in text.split(","))
    return tuple(sorted({_day(part, days) for part in parts if part}))


def describe_walk_times(walk: WeekWalk) -> str:
    """When a walk begins and ends, such as "08:00 to 10:05"."""
    leave_at = walk.round.round.leave_at
    return f"{clock(leave_at)} to {clock(leave_at + walk.round.round.minutes)}"
