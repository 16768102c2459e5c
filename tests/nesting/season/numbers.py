"""The numbers in a text, read back without the code that wrote them."""

from __future__ import annotations

import calendar
import re
from collections.abc import Iterator, Sequence
from datetime import date
from typing import Any

MONTHS = list(calendar.month_name)[1:]
_DAY = re.compile(rf"\b(\d+) ({'|'.join(MONTHS)})\b")
_NUMBER = re.compile(r"(?<![\w.])([+-]?\d+(?:\.\d+)?)( ?%)?")


def days_in(text: str) -> list[tuple[int, int]]:
    """Day and month of each date like `3 June`."""
    return [(int(found[1]), MONTHS.index(found[2]) + 1) for found in _DAY.finditer(text)]


def numbers_in(text: str) -> list[tuple[float, float]]:
    """Each number that is no date, a share for a per cent, and half of its last digit."""
    found = []
    for match in _NUMBER.finditer(_DAY.sub("", text)):
        places = len(match[1].partition(".")[2])
        scale = 100 if match[2] else 1
        found.append((float(match[1]) / scale, 0.5000001 * 10**-places / scale))
    return found


def leaves(value: Any) -> Iterator[Any]:
    """Every plain value in nested lists and dictionaries."""
    if isinstance(value, dict):
        for each in value.values():
            yield from leaves(each)
    elif isinstance(value, list):
        for each in value:
            yield from leaves(each)
    else:
        yield value


def missing_from(text: str, values: Sequence[Any]) -> list[str]:
    """Numbers and days of a text that are not among the values, to the digits given."""
    numbers = [v for v in values if isinstance(v, int | float) and not isinstance(v, bool)]
    words = [v for v in values if isinstance(v, str)]
    for word in words:
        numbers += [number for number, _ in numbers_in(word)]
    days = {
        (day.day, day.month)
        for word in words
        if re.fullmatch(r"\d{4}-\d\d-\d\d", word)
        for day in [date.fromisoformat(word)]
    }
    gone = [
        str(number)
        for number, within in numbers_in(text)
        if not any(abs(number - value) <= within for value in numbers)
    ]
    return gone + [f"{day}.{month}." for day, month in days_in(text) if (day, month) not in days]
