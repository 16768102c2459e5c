"""Visit rows in whole words to the integer-coded columns of `Visits`."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, date, datetime
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from layers.trail.field import Field
from layers.trail.schema import VISITS
from layers.trail.visits import STILL_CURRENT, UNKNOWN, Visits

CODED_COLUMNS = ("fid", *(field.name for field in VISITS.fields if field.kind != "text"))
"""The columns of a visit that `code_visits` reads, in the order it expects them."""

_SEEN_ON = CODED_COLUMNS.index("seen_on")
_EPOCH = date(1970, 1, 1).toordinal()


def day_number(day: date | str) -> int:
    """Days from 1970-01-01 to a day."""
    return (date.fromisoformat(day) if isinstance(day, str) else day).toordinal() - _EPOCH


def _day_number(day: Any) -> int | None:
    try:
        return day_number(day)
    except (TypeError, ValueError):
        return None


def day_of(number: int) -> date:
    """The day `number` days after 1970-01-01."""
    return date.fromordinal(int(number) + _EPOCH)


def _moment(value: datetime | str) -> datetime:
    return datetime.fromisoformat(value) if isinstance(value, str) else value


def _code(values: Sequence[Any], known: Sequence[str] | None = None) -> tuple[list[int], list[str]]:
    """Codes by first appearance after `known`; None and blank text are `UNKNOWN`."""
    codes: dict[Any, int] = {word: i for i, word in enumerate(known or ())}
    coded = [codes.setdefault(v, len(codes)) if v else UNKNOWN for v in values]
    return coded, list(codes)


def _bits(values: Sequence[Any], words: Sequence[str]) -> list[int]:
    place = {word: 1 << i for i, word in enumerate(words)}
    seen: dict[Any, int] = {None: 0}
    for text in set(values) - {None}:
        seen[text] = sum({place.get(part.strip(), 0) for part in text.split(";")})
    return [seen[text] for text in values]


def code_visits(
    rows: Iterable[Mapping[str, Any]] | Iterable[tuple[Any, ...]],
    *,
    boxes: Iterable[str],
    timezone: ZoneInfo,
    signs_words: Sequence[str],
    actions_words: Sequence[str],
) -> Visits:
    """Visits as coded columns.

    Parameters
    ----------
    rows
        Mappings with the visit columns of a trail file, or tuples in the order of
        `CODED_COLUMNS`. Days and moments may be ISO text or date and datetime values.
    boxes
        Ids to list first, in this order; a box met only in a visit is listed behind.
    timezone
        Where the trail is: turns `seen_at` into minutes after local midnight.

    A word on no list, or a number out of its range, is taken as not recorded, since a desktop
    GIS may have written it, and a row without a day is left out; `check_trail` reports them.
    """
    listed = [
        row if isinstance(row, tuple) else tuple(row.get(name) for name in CODED_COLUMNS)
        for row in rows
    ]
    day_numbers = {day: _day_number(day) for day in {row[_SEEN_ON] for row in listed}}
    if None in day_numbers.values():
        listed = [row for row in listed if day_numbers[row[_SEEN_ON]] is not None]
    cells = list(zip(*listed, strict=True)) or [()] * len(CODED_COLUMNS)
    columns = dict(zip(CODED_COLUMNS, cells, strict=True))
    box, box_ids = _code(columns["box"], tuple(boxes))
    species, species_names = _code(columns["species"])
    observer, observers = _code(columns["observer"])
    entered = [
        0 if value is None else int(_moment(value).timestamp()) for value in columns["entered_at"]
    ]
    replaced_s: NDArray[np.int64] = np.full(len(listed), STILL_CURRENT, np.int64)
    row_of = {visit_id: i for i, visit_id in enumerate(columns["visit_id"])}
    for i, replaces in enumerate(columns["replaces"]):
        if replaces is not None and replaces in row_of:
            target = row_of[replaces]
            replaced_s[target] = min(replaced_s[target], entered[i])
    for i, withdraws in enumerate(columns["withdraws"]):
        if withdraws == "yes":
            # It takes a visit back and holds none itself, at any moment.
            replaced_s[i] = entered[i]
    coded: dict[str, Any] = {
        "box": box,
        "day": [day_numbers[day] for day in columns["seen_on"]],
        "minute": [_minute(value, timezone) for value in columns["seen_at"]],
        "species": species,
        "observer": observer,
        "entered_s": entered,
        "replaced_s": replaced_s,
        "signs": _bits(columns["signs"], signs_words),
        "actions": _bits(columns["actions"], actions_words),
    }
    if all(fid is not None for fid in columns["fid"]):
        coded["row"] = columns["fid"]
    for field in VISITS.fields:
        if field.name in columns and field.name not in coded and not field.automatic:
            simple = _simple(columns[field.name], field)
            if simple is not None:
                coded[field.name] = simple
    return Visits.from_columns(
        coded,
        boxes=box_ids,
        species_names=species_names,
        observers=observers,
        signs_words=signs_words,
        actions_words=actions_words,
    )


def _simple(values: Sequence[Any], field: Field) -> list[int] | list[float] | None:
    """Counts, measures, and places in the column's list of words; None for other columns."""
    if field.kind == "whole":
        return [UNKNOWN if value is None else _count(value, field) for value in values]
    if field.kind == "number":
        return [_measure(value, field) for value in values]
    if field.kind in ("word", "yes or no"):
        place = {word: i for i, word in enumerate(field.words)}
        return [place.get(value, UNKNOWN) for value in values]
    return None


def _fits(value: Any, field: Field) -> bool:
    number = isinstance(value, int | float | np.number)
    return number and (field.between is None or field.between[0] <= value <= field.between[1])


def _count(value: Any, field: Field) -> int:
    return int(value) if _fits(value, field) and value % 1 == 0 else UNKNOWN


def _measure(value: Any, field: Field) -> float:
    return float(value) if _fits(value, field) else np.nan


def _minute(seen_at: datetime | str | None, timezone: ZoneInfo) -> int:
    if seen_at is None:
        return UNKNOWN
    moment = _moment(seen_at)
    local = (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).astimezone(timezone)
    return local.hour * 60 + local.minute
