"""Days written as text, every year or once: when a path is closed, when a zone is.

`03-01/07-31` is from 1 March to 31 July of every year, `2026-11-14` one day,
`2026-11-14/2026-11-16` three; several are joined by `;`. Days and spans of days are written
as in ISO 8601, the year left out where it is any.
"""

from __future__ import annotations

import re
from datetime import date

from layers.errors import BadValue

EXPECTED = "days like 03-01/07-31 (every year), 2026-11-14 or 2026-11-14/2026-11-16, joined by ;"
_DAY = re.compile(r"(?:\d{4}-)?\d{2}-\d{2}")
_ANY_LEAP_YEAR = 2028


def recurring_days(text: str) -> str:
    """Text of days in its plain form; `BadValue` where a part of it is none.

    >>> recurring_days("03-01 / 07-31;2026-11-14")
    '03-01/07-31; 2026-11-14'
    """
    return "; ".join("/".join(dict.fromkeys(span)) for span in _spans(text))


def is_among(day: date, text: str) -> bool:
    """Whether a day is one of those of the text.

    >>> is_among(date(2026, 2, 3), "10-01/02-28")
    True
    """
    whole = day.isoformat()
    for first, last in _spans(text):
        at = whole[-len(first) :]
        over_new_year = first > last
        if (at >= first or at <= last) if over_new_year else first <= at <= last:
            return True
    return False


def _spans(text: str) -> list[tuple[str, str]]:
    """First and last day of each part, both with their year or both without."""
    spans = []
    for part in text.split(";"):
        first, _, last = (end.strip() for end in part.partition("/"))
        last = last or first
        every_year = len(first) == len("MM-DD")
        if not (_is_day(first) and _is_day(last) and len(first) == len(last)):
            raise BadValue(EXPECTED, repr(part.strip()))
        if first > last and not every_year:
            raise BadValue("a first day before the last", repr(part.strip()))
        spans.append((first, last))
    return spans


def _is_day(text: str) -> bool:
    if _DAY.fullmatch(text) is None:
        return False
    try:
        date.fromisoformat(text if len(text) > len("MM-DD") else f"{_ANY_LEAP_YEAR}-{text}")
    except ValueError:
        return False
    return True
