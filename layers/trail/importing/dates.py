"""Days, clock times and moments as people write them; never guessed where two readings fit."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import MAXYEAR, UTC, date, datetime, time, timedelta, timezone, tzinfo
from functools import lru_cache
from typing import Literal
from zoneinfo import ZoneInfo

from layers.errors import BadValue
from layers.trail.importing.cells import quoted

DayOrder = Literal["day-first", "month-first"]

FIRST_YEAR = 1906
"""A visit or a box from before is a slip: spreadsheets show small numbers as days of 1900 and years
as days of 1905, and some programs write 1 January 1900 for none; common practice, no source."""

_MONTH_NAMES = (
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
)
_MONTHS = {
    name: number for number, full in enumerate(_MONTH_NAMES, start=1) for name in (full, full[:3])
} | {"sept": 9}
_YEAR_FIRST = re.compile(r"(\d{4})([-/.])(\d{1,2})\2(\d{1,2})|(\d{4})(\d{2})(\d{2})", re.ASCII)
_YEAR_LAST = re.compile(r"(\d{1,2})([-/.])(\d{1,2})\2(\d{4})", re.ASCII)
_SHORT_YEAR = re.compile(r"\d{1,2}([-/.])\d{1,2}\1\d{2}", re.ASCII)
_DAY_MONTH = re.compile(r"(\d{1,2})(?:st|nd|rd|th)?[ .-]*([a-z]{3,9})[ .,-]*(\d{4})", re.ASCII)
_MONTH_DAY = re.compile(r"([a-z]{3,9})[ .]*(\d{1,2})(?:st|nd|rd|th)?,? +(\d{4})", re.ASCII)
_CLOCK = re.compile(
    r"(\d{1,2})(?:[:.h](\d{2})(?:[:.](\d{2})(?:[.,]\d{1,9})?)?|(\d{2}))"
    r"(?:\s*(a|p)\.?m\.?)?\s*(z|utc|gmt|[+-]\d{2}:?(?:\d{2})?)?",
    re.ASCII,
)
_DAY_AND_CLOCK = re.compile(r"(.+?\d)(?:t|,? )(\d{1,2}[:h]\d{2}.*)", re.ASCII)


@dataclass(frozen=True)
class Clock:
    """A time of day; `zone` only where it was written with one."""

    time: time
    zone: tzinfo | None = None


def read_day(value: object, *, order: DayOrder | None) -> tuple[date, Clock | None]:
    """A day from 1906 on, and the time of day where the cell holds one.

    Parameters
    ----------
    order
        How days like 03/04/2026 are meant; None = such a day is refused.
        A day with one reading alone (25/04/2026, 2026-04-25, 25 April 2026) needs none.
    """
    if isinstance(value, datetime):
        clock = None if value.time() == time() and not value.tzinfo else _clock_of(value)
        return _in_range(value.date(), value), clock
    if isinstance(value, date):
        return _in_range(value, value), None
    if not isinstance(value, str):
        raise BadValue("a date like 2026-05-14", f"the number {quoted(value)}")
    return _day_of_text(" ".join(value.split()), order)


def day(value: object, *, order: DayOrder | None, latest: date | None = None) -> date:
    """A day not after `latest`; a time of day in the cell is left out."""
    found, _ = read_day(value, order=order)
    if latest is not None and found > latest:
        raise BadValue(f"a date not after {latest}, today", quoted(value))
    return found


def _clock_of(moment: datetime) -> Clock:
    return Clock(moment.time(), moment.tzinfo)


def _in_range(found: date, value: object) -> date:
    # The calendar's last year leaves no room to turn a time into another zone.
    if not FIRST_YEAR <= found.year < MAXYEAR:
        raise BadValue(f"a date from {FIRST_YEAR} on", quoted(value))
    return found


@lru_cache(maxsize=4096)
def _day_of_text(text: str, order: DayOrder | None) -> tuple[date, Clock | None]:
    folded = text.casefold()
    both = _DAY_AND_CLOCK.fullmatch(folded)
    if both is None:
        return _plain_day(folded, text, order), None
    clock = read_clock(both[2])
    found = _plain_day(both[1], text, order)
    return found, None if clock == Clock(time()) else clock


def _plain_day(folded: str, text: str, order: DayOrder | None) -> date:
    expected = "a date like 2026-05-14"
    if match := _YEAR_FIRST.fullmatch(folded):
        year, month, day_of_month = map(
            int, match.group(1, 3, 4) if match[1] else match.groups()[4:]
        )
    elif match := _YEAR_LAST.fullmatch(folded):
        year = int(match[4])
        month, day_of_month = _month_and_day(int(match[1]), int(match[3]), text, order)
    elif (match := _DAY_MONTH.fullmatch(folded)) and match[2] in _MONTHS:
        year, month, day_of_month = int(match[3]), _MONTHS[match[2]], int(match[1])
    elif (match := _MONTH_DAY.fullmatch(folded)) and match[1] in _MONTHS:
        year, month, day_of_month = int(match[3]), _MONTHS[match[1]], int(match[2])
    elif _SHORT_YEAR.fullmatch(folded):
        raise BadValue("a date with a year of four digits, like 2026-05-14", quoted(text))
    else:
        raise BadValue(expected, quoted(text))
    try:
        found = date(year, month, day_of_month)
    except ValueError as error:
        raise BadValue(f"{expected} that is in the calendar", quoted(text)) from error
    return _in_range(found, text)


def _month_and_day(first: int, second: int, text: str, order: DayOrder | None) -> tuple[int, int]:
    if order == "day-first":
        if second > 12 >= first:
            raise BadValue("a day-first date like 14/05/2026", quoted(text))
        return second, first
    if order == "month-first":
        if first > 12 >= second:
            raise BadValue("a month-first date like 05/14/2026", quoted(text))
        return first, second
    if first <= 12 and second <= 12 and first != second:
        raise BadValue(
            "a date with one reading like 2026-05-14, or dates given as day-first or month-first",
            quoted(text),
        )
    return (second, first) if first > 12 else (first, second)


def read_clock(value: object) -> Clock:
    """A time of day: 8:30, 08.30, 0830, 8:30 pm, 08:30Z, 08:30+02:00."""
    if isinstance(value, time):
        return Clock(value.replace(tzinfo=None), value.tzinfo)
    if isinstance(value, timedelta) and timedelta() <= value < timedelta(days=1):
        return Clock((datetime.min + value).time())
    if isinstance(value, str):
        return _clock_of_text(" ".join(value.casefold().split()))
    raise BadValue("a time like 08:30", quoted(value))


@lru_cache(maxsize=4096)
def _clock_of_text(text: str) -> Clock:
    expected = "a time like 08:30"
    match = _CLOCK.fullmatch(text)
    if match is None:
        raise BadValue(f"{expected}, with a zone like +02:00 or Z if at all", quoted(text))
    hour, minute, second = int(match[1]), int(match[2] or match[4]), int(match[3] or 0)
    if match[5]:
        if not 1 <= hour <= 12:
            raise BadValue(expected, quoted(text))
        hour = hour % 12 + (12 if match[5] == "p" else 0)
    zone: tzinfo | None = None
    if match[6]:
        zone = UTC if match[6][0] in "zug" else _offset(match[6], text)
    try:
        return Clock(time(hour, minute, second), zone)
    except ValueError as error:
        raise BadValue(expected, quoted(text)) from error


def _offset(written: str, text: str) -> timezone:
    digits = written[1:].replace(":", "").ljust(4, "0")
    offset = timedelta(hours=int(digits[:2]), minutes=int(digits[2:]))
    # The widest offsets in use are -12:00 and +14:00 (IANA time zone database).
    if offset > timedelta(hours=14) or int(digits[2:]) > 59:
        raise BadValue("a zone from -12:00 to +14:00", quoted(text))
    return timezone(-offset if written[0] == "-" else offset)


@dataclass(frozen=True)
class Moment:
    """When a visit was: the trail's local day, and the UTC moment if the time is known."""

    day: date
    at: datetime | None = None
    note: str | None = None


@lru_cache(maxsize=4096)
def resolve_moment(found: date, clock: Clock | None, zone: ZoneInfo) -> Moment:
    """The local day and UTC moment of a day and time as written.

    A time without a zone is the trail's own. Where the clocks go back it may stand for
    two moments: the first is taken and noted.

    Raises
    ------
    BadValue
        The clocks were put forward over that time, so it never was.
    """
    if clock is None:
        return Moment(found)
    written = f"{clock.time:%H:%M} on {found}"
    if clock.zone is not None:
        at = datetime.combine(found, clock.time, clock.zone).astimezone(UTC)
        local_day = at.astimezone(zone).date()
        note = None
        if local_day != found:
            note = f"{written} {clock.zone} is {local_day} in {zone.key}"
        return Moment(local_day, at, note)
    local = datetime.combine(found, clock.time, zone)
    at = local.astimezone(UTC)
    if at.astimezone(zone).replace(tzinfo=None) != local.replace(tzinfo=None):
        raise BadValue(
            f"a time that was on the clocks of {zone.key}",
            f"{written}, when they were put forward",
        )
    note = None
    if local.replace(fold=1).utcoffset() != local.utcoffset():
        note = f"{written} was twice, as clocks were put back; the first was taken"
    return Moment(found, at, note)


def utc_text(moment: datetime) -> str:
    """A moment as a GeoPackage stores it."""
    # To the nearest millisecond: GDAL gives one of 46.432 s as 46.431999.
    nearest = moment.astimezone(UTC) + timedelta(microseconds=500)
    return nearest.isoformat(timespec="milliseconds").replace("+00:00", "Z")


def stored_moment(value: object) -> str:
    """A moment written with its zone, as a GeoPackage stores it."""
    expected = "a moment with its zone like 2026-05-14T08:30:00Z"
    if isinstance(value, str):
        try:
            value = datetime.fromisoformat(value.strip())
        except ValueError as error:
            raise BadValue(expected, quoted(value)) from error
    if (
        not isinstance(value, datetime)
        or value.tzinfo is None
        or not FIRST_YEAR <= value.year < MAXYEAR
    ):
        raise BadValue(expected, quoted(value))
    return utc_text(value)
