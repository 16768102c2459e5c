"""Which features a request is for, read from its query string.

OGC API - Features - Part 1: Core 1.0 (OGC 17-069r4), clauses 7.15 and 7.16: an unknown
parameter or a bad value is refused.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

from layers.errors import BadValue, CallerError
from layers.trail.exporting.collection import ALWAYS, FOR_EVER, MINUTES_A_DAY, Box, day_minute

LIMIT_USUAL = 100
LIMIT_MOST = 10_000
"""Above it a limit is taken for this, as 17-069r4, requirement 21 asks."""

CONTROLS = ("f", "limit", "offset", "bbox", "datetime")
"""Parameters of `items` beside the columns that rows can be chosen by."""

_DAY = r"\d{4}-\d\d-\d\d"
_MOMENT = re.compile(rf"{_DAY}[Tt]\d\d:\d\d:\d\d(\.\d+)?([Zz]|[+-]\d\d:\d\d)", re.ASCII)
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?", re.ASCII)
_EPOCH = datetime(1970, 1, 1)


@dataclass(frozen=True)
class ItemsQuery:
    """Which rows: the arguments of `Collection.chosen`, and which part of those."""

    limit: int
    offset: int
    bbox: Box | None
    minutes: tuple[int, int] | None
    where: Mapping[str, str]


def only(given: Iterable[tuple[str, str]], allowed: Iterable[str]) -> dict[str, str]:
    """The parameters by name; `BadValue` for one that is not allowed or comes twice."""
    known = set(allowed)
    found: dict[str, str] = {}
    for name, text in given:
        if name not in known:
            raise BadValue(f"a parameter of {', '.join(sorted(known))}", repr(name))
        if name in found:
            raise BadValue("each parameter once", f"{name!r} twice", column=name)
        found[name] = text
    return found


def read_items_query(given: Mapping[str, str], *, zone: ZoneInfo) -> ItemsQuery:
    """The query of checked parameters.

    Parameters
    ----------
    zone
        Where the trail is: a plain day is a day there.
    """
    box, when = given.get("bbox"), given.get("datetime")
    return ItemsQuery(
        limit=min(_count(given, "limit", usual=LIMIT_USUAL, least=1), LIMIT_MOST),
        offset=_count(given, "offset", usual=0, least=0),
        bbox=None if box is None else read_bbox(box),
        minutes=None if when is None else read_datetime(when, zone=zone),
        where={name: text for name, text in given.items() if name not in CONTROLS},
    )


def _count(given: Mapping[str, str], name: str, *, usual: int, least: int) -> int:
    text = given.get(name)
    if text is None:
        return usual
    if not re.fullmatch(r"\d{1,15}", text, re.ASCII) or int(text) < least:
        raise BadValue(f"a whole number, {least} or more", repr(text), column=name)
    return int(text)


def read_bbox(text: str) -> Box:
    """West, south, east, north of 4 numbers, or of 6 with heights, which are ignored."""
    parts = text.split(",")
    if len(parts) not in (4, 6) or not all(_NUMBER.fullmatch(part) for part in parts):
        raise BadValue("4 or 6 numbers joined by commas", repr(text), column="bbox")
    numbers = [float(part) for part in parts]
    half = len(parts) // 2
    west, south, east, north = *numbers[:2], *numbers[half : half + 2]
    if not all(math.isfinite(number) for number in numbers) or south > north:
        raise BadValue("numbers with south before north", repr(text), column="bbox")
    return west, south, east, north


def read_datetime(text: str, *, zone: ZoneInfo) -> tuple[int, int]:
    """First and last local minute of an instant, a day or an interval, `..` where open."""
    parts = text.split("/")
    if len(parts) == 1:
        return _minutes(parts[0], zone)
    if len(parts) != 2:
        raise _no_time(text)
    first = ALWAYS if parts[0] in ("", "..") else _minutes(parts[0], zone)[0]
    last = FOR_EVER if parts[1] in ("", "..") else _minutes(parts[1], zone)[1]
    if first > last:
        raise BadValue("an interval that begins before it ends", repr(text), column="datetime")
    return first, last


def _minutes(text: str, zone: ZoneInfo) -> tuple[int, int]:
    try:
        # GDAL 3.12 writes the day of a filter such as "seen_on >= '2026-05-01'" with a T behind.
        if re.fullmatch(f"{_DAY}T?", text, re.ASCII):
            midnight = day_minute(date.fromisoformat(text[:10]).isoformat())
            return midnight, midnight + MINUTES_A_DAY - 1
        if not _MOMENT.fullmatch(text):
            raise ValueError(text)
        local = datetime.fromisoformat(text.upper()).astimezone(UTC).astimezone(zone)
    except (ValueError, OverflowError):
        raise _no_time(text) from None
    minute = (local.replace(tzinfo=None) - _EPOCH).total_seconds() // 60
    return int(minute), int(minute)


def _no_time(text: str) -> CallerError:
    return BadValue(
        "a day, an RFC 3339 moment, or two of them joined by /, with .. where open",
        repr(text),
        column="datetime",
    )
