"""Visit rows in whole words to the integer-coded columns of `Visits`."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import UTC, date, datetime
from itertools import islice
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from layers.trail.field import Field
from layers.trail.schema import VISITS
from layers.trail.visits import STILL_CURRENT, UNKNOWN, Visits, column_types

CODED_COLUMNS = ("fid", *(field.name for field in VISITS.fields if field.kind != "text"))
"""The columns of a visit that `code_visits` reads, in the order it expects them."""

BLOCK_ROWS = 20_000
"""Rows that are in memory as words at a time, some 25 MB of them."""

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


class _Codes:
    """Codes by first appearance after those of `known`; None and blank text are `UNKNOWN`."""

    def __init__(self, known: Iterable[str] = ()) -> None:
        self._codes: dict[Any, int] = {word: code for code, word in enumerate(known)}

    def of(self, values: Iterable[Any]) -> list[int]:
        codes = self._codes
        return [codes.setdefault(value, len(codes)) if value else UNKNOWN for value in values]

    @property
    def words(self) -> list[str]:
        return list(self._codes)


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
    coder = _Coder(boxes, timezone=timezone, signs_words=signs_words, actions_words=actions_words)
    left: Iterator[Mapping[str, Any] | tuple[Any, ...]] = iter(rows)
    while block := list(islice(left, BLOCK_ROWS)):
        coder.add(block)
    return coder.visits()


class _Coder:
    """Rows coded a block at a time, so that few of a million are in memory as words."""

    def __init__(
        self,
        boxes: Iterable[str],
        *,
        timezone: ZoneInfo,
        signs_words: Sequence[str],
        actions_words: Sequence[str],
    ) -> None:
        self._timezone, self._signs, self._actions = timezone, signs_words, actions_words
        self._boxes, self._species, self._observers = _Codes(boxes), _Codes(), _Codes()
        self._blocks: list[dict[str, NDArray[Any]]] = []
        self._ids: list[str] = []
        self._replaced: list[tuple[str, int]] = []
        self._withdrawals: list[tuple[int, int]] = []

    def add(self, rows: Sequence[Mapping[str, Any] | tuple[Any, ...]]) -> None:
        """Code rows that come behind those before."""
        listed = [
            row if isinstance(row, tuple) else tuple(row.get(name) for name in CODED_COLUMNS)
            for row in rows
        ]
        day_numbers = {day: _day_number(day) for day in {row[_SEEN_ON] for row in listed}}
        if None in day_numbers.values():
            listed = [row for row in listed if day_numbers[row[_SEEN_ON]] is not None]
        cells = list(zip(*listed, strict=True)) or [()] * len(CODED_COLUMNS)
        columns = dict(zip(CODED_COLUMNS, cells, strict=True))
        entered = [
            0 if value is None else int(_moment(value).timestamp())
            for value in columns["entered_at"]
        ]
        begin = len(self._ids)
        self._ids += columns["visit_id"]
        for at_s, replaces in zip(entered, columns["replaces"], strict=True):
            if replaces is not None:
                self._replaced.append((replaces, at_s))
        for row, (at_s, withdraws) in enumerate(zip(entered, columns["withdraws"], strict=True)):
            if withdraws == "yes":
                self._withdrawals.append((begin + row, at_s))
        coded: dict[str, Any] = {
            "box": self._boxes.of(columns["box"]),
            "day": [day_numbers[day] for day in columns["seen_on"]],
            "minute": [_minute(value, self._timezone) for value in columns["seen_at"]],
            "species": self._species.of(columns["species"]),
            "observer": self._observers.of(columns["observer"]),
            "entered_s": entered,
            "signs": _bits(columns["signs"], self._signs),
            "actions": _bits(columns["actions"], self._actions),
        }
        if all(fid is not None for fid in columns["fid"]):
            coded["row"] = columns["fid"]
        for field in VISITS.fields:
            if field.name in columns and field.name not in coded and not field.automatic:
                simple = _simple(columns[field.name], field)
                if simple is not None:
                    coded[field.name] = simple
        types = column_types()
        self._blocks.append(
            {name: _array(values, types.get(name)) for name, values in coded.items()}
        )

    def visits(self) -> Visits:
        """What was coded, with the moments at which rows were replaced or taken back."""
        if not self._blocks:
            self.add(())
        names = set.intersection(*(set(block) for block in self._blocks))
        columns = {name: np.concatenate([one[name] for one in self._blocks]) for name in names}
        return Visits.from_columns(
            columns | {"replaced_s": self._replaced_s()},
            boxes=self._boxes.words,
            species_names=self._species.words,
            observers=self._observers.words,
            signs_words=self._signs,
            actions_words=self._actions,
        )

    def _replaced_s(self) -> NDArray[np.int64]:
        replaced_s: NDArray[np.int64] = np.full(len(self._ids), STILL_CURRENT, np.int64)
        wanted = {visit_id for visit_id, _ in self._replaced}
        row_of = {one: row for row, one in enumerate(self._ids) if one in wanted} if wanted else {}
        for visit_id, at_s in self._replaced:
            if visit_id in row_of:
                target = row_of[visit_id]
                replaced_s[target] = min(replaced_s[target], at_s)
        for row, at_s in self._withdrawals:
            # It takes a visit back and holds none itself, at any moment.
            replaced_s[row] = at_s
        return replaced_s


def _array(values: Sequence[Any], kind: type[np.generic] | None) -> NDArray[Any]:
    array = np.asarray(values)
    return array if kind is None else array.astype(kind, copy=False)


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
