"""Days as they are written in tables: what a cell says by itself, what its column must decide."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache

from layers.errors import BadValue
from layers.trail.importing.dates import FIRST_YEAR, Clock, DayOrder, read_clock
from layers.trail.importing.proposing.vocabulary import month_of

_CLOCK_AFTER = re.compile(r"(.*?\d)[, T]+(\d{1,2}[:h]\d{2}(?::\d{2})?(?:\s*[ap]\.?m\.?)?)", re.I)
_WEEKDAY = re.compile(r"[^\W\d_]{2,10}[.,]*\s+(?=\d|[^\W\d_]{3,}[. ]*\d)")
_NUMBERS = re.compile(r"(\d{1,4})\s*([-/. ])\s*(\d{1,2})(?:\s*\2\s*(\d{2,4})|[./]?)")
_PACKED = re.compile(r"(\d{4})(\d{2})(\d{2})")
_DAY_FIRST = re.compile(
    r"(\d{1,2})(?:st|nd|rd|th|er|º|°|\.)?[\s.\-/]*(?:of |de )?([^\W\d_]{3,10})\.?"
    r"(?:[\s.,\-/]*(?:de )?['’]?(\d{4}|\d{2}))?"
)
_MONTH_FIRST = re.compile(
    r"([^\W\d_]{3,10})\.?[\s.\-/]*(\d{1,2})(?:st|nd|rd|th)?(?:[\s,.\-/]+['’]?(\d{4}|\d{2}))?"
)


@dataclass(frozen=True)
class Written:
    """A day as a cell gives it.

    Attributes
    ----------
    year
        None where it is not written.
    first, second
        Day and month in the order of the cell; `order` is None where both orders fit.
    """

    year: int | None
    first: int
    second: int
    order: DayOrder | None
    clock: Clock | None = None
    numeric: bool = False

    def day(self, *, order: DayOrder | None, year: int | None) -> date | None:
        """The day by the order and the year of the column; None if it is none."""
        use = self.order or order
        of = self.year or year
        if of is None or (use is None and self.first != self.second):
            return None
        month, day = (self.second, self.first) if use == "day-first" else (self.first, self.second)
        try:
            return date(of, month, day)
        except ValueError:
            return None


def written_day(value: object, *, today: date) -> Written | None:
    """What a cell says of a day; None where it is none, or no real one in any reading.

    Two digits of a year are of the hundred years that end with `today`'s.
    """
    if isinstance(value, datetime):
        clock = None if (value.hour, value.minute) == (0, 0) else Clock(value.time(), value.tzinfo)
        return _checked(Written(value.year, value.month, value.day, "month-first", clock), today)
    if isinstance(value, date):
        return _checked(Written(value.year, value.month, value.day, "month-first"), today)
    return _written_text(value, today) if isinstance(value, str) else None


@lru_cache(maxsize=50_000)
def _written_text(value: str, today: date) -> Written | None:
    if not 3 <= len(value.strip()) <= 40:
        return None
    text = " ".join(value.replace("\u200b", "").split()).casefold()
    clock = None
    if both := _CLOCK_AFTER.fullmatch(text):
        try:
            clock = read_clock(both[2])
        except BadValue:
            return None
        text = both[1]
    found = _plain(text, today)
    if found is None and (weekday := _WEEKDAY.match(text)):
        found = _plain(text[weekday.end() :], today)
    if found is None:
        return None
    return _checked(
        Written(found.year, found.first, found.second, found.order, clock, found.numeric), today
    )


def _plain(text: str, today: date) -> Written | None:
    if packed := _PACKED.fullmatch(text):
        return Written(int(packed[1]), int(packed[2]), int(packed[3]), "month-first")
    if numbers := _NUMBERS.fullmatch(text):
        one, _, two, three = numbers.groups()
        if len(one) == 4:
            return Written(int(one), int(two), int(three), "month-first") if three else None
        if len(one) > 2 or (three and len(three) == 3):
            return None
        if not three and numbers[2] in "- ":
            return None  # 4-5 is a range as often as a day
        return Written(_year(three, today), int(one), int(two), None, numeric=True)
    if (named := _DAY_FIRST.fullmatch(text)) and (month := month_of(named[2])):
        return Written(_year(named[3], today), int(named[1]), month, "day-first")
    if (named := _MONTH_FIRST.fullmatch(text)) and (month := month_of(named[1])):
        return Written(_year(named[3], today), month, int(named[2]), "month-first")
    return None


def _year(digits: str | None, today: date) -> int | None:
    if not digits:
        return None
    if len(digits) == 4:
        return int(digits)
    year = today.year - today.year % 100 + int(digits)
    return year if year <= today.year else year - 100


def _checked(found: Written, today: date) -> Written | None:
    """The same where it is a day of the calendar; its order where only one fits."""
    if found.year is not None and not FIRST_YEAR <= found.year <= today.year + 1:
        return None
    year = found.year or 2024  # a leap year, so that 29 February is a day
    orders: tuple[DayOrder, ...] = ("day-first", "month-first")
    fitting = [
        order
        for order in ((found.order,) if found.order else orders)
        if found.day(order=order, year=year) is not None
        or (found.year is None and found.day(order=order, year=2024) is not None)
    ]
    if not fitting:
        return None
    only = fitting[0] if len(fitting) == 1 else None
    return Written(found.year, found.first, found.second, only, found.clock, found.numeric)


def order_shown(days: Iterable[Written]) -> set[DayOrder]:
    """The orders that cells with a number over 12 show."""
    return {one.order for one in days if one.numeric and one.order is not None}


def order_that_never_runs_back(days: list[Written], *, year: int | None) -> DayOrder | None:
    """The one order in which a file's days only go forward; None if both or neither do.

    It may be proposed, not taken: files that were sorted otherwise show the wrong one.
    """
    forward: list[DayOrder] = []
    for order in ("day-first", "month-first"):
        read = [one.day(order=order, year=year) for one in days]
        known = [one for one in read if one is not None]
        if len(known) == len(days) and known == sorted(known):
            forward.append(order)
    return forward[0] if len(forward) == 1 else None
