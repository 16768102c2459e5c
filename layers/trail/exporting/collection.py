"""A collection: rows of one kind that are given out, and how some of them are chosen.

What a web feature service serves and what an export writes is the same collections.
What rows are chosen by (shape, time, a few columns) is in arrays; whole rows are
read for the chosen positions alone, so a page of a million visits costs little.

Visits come in the order of entry, so one saved while a client reads page after page shifts
nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from functools import cached_property
from typing import Any, Protocol
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from layers.errors import BadValue, NotKnown
from layers.trail.field import Field, Geometry, Storage, column

TRAIL_ID = column("trail", "uuid", "id of the trail, unique among all trails")
"""A column of every table."""

ALWAYS = np.iinfo(np.int64).min
"""`since` of a row that has held for ever."""

FOR_EVER = np.iinfo(np.int64).max
"""`until` of a row that still holds."""

MINUTES_A_DAY = 1440
ROWS_AT_A_TIME = 10_000
"""Rows that `pages` reads at once: some ten megabytes."""

Box = tuple[float, float, float, float]
Pick = Callable[[str], NDArray[np.bool_]]
_EPOCH = datetime(1970, 1, 1)


@dataclass(frozen=True)
class Row:
    """One row: its lasting id, its columns, and its shape in EPSG:4326 or None."""

    id: str | int
    values: Mapping[str, Any]
    shape: Any


@dataclass(frozen=True, eq=False)
class Collection:
    """Rows of one kind.

    Times are minutes of the trail's local clock after 1970-01-01T00:00: a day counts
    where the trail is. The one hour a year that a clock shows twice is counted as one.

    Attributes
    ----------
    geometry
        Storage of shape; a row may lack one.
    fields
        The columns of a row, in the order of `Row.values`.
    shapes
        Shapes that rows have; None where one is missing. Several rows may share one.
    place
        For each row the position of its shape in `shapes`; -1 = none.
    since, until
        First and last minute for which each row holds, both included, `ALWAYS` and
        `FOR_EVER` where open; None where the rows have no time.
    key
        Columns by which a row of the trail is found; empty where none are lasting.
    picks
        Columns that rows can be chosen by: column -> (text of a value -> mask of rows).
        `BadValue` where the text is no such value.
    read
        Whole rows at some positions, in their order.
    find
        The position of an id; None if there is no such row.
    """

    name: str
    title: str
    note: str
    geometry: Geometry
    fields: tuple[Field, ...]
    zone: ZoneInfo
    shapes: NDArray[Any]
    place: NDArray[np.int64]
    read: Callable[[NDArray[np.int64]], list[Row]]
    find: Callable[[str], int | None]
    key: tuple[str, ...] = ()
    since: NDArray[np.int64] | None = None
    until: NDArray[np.int64] | None = None
    picks: Mapping[str, Pick] = field(default_factory=dict)

    def __len__(self) -> int:
        return len(self.place)

    def chosen(
        self,
        *,
        bbox: Box | None = None,
        minutes: tuple[int, int] | None = None,
        where: Mapping[str, str] | None = None,
    ) -> NDArray[np.int64]:
        """Positions of the rows that meet all conditions, in order.

        Parameters
        ----------
        bbox
            West, south, east, north in degrees; west > east crosses the antimeridian.
            A row without a shape meets any.
        minutes
            First and last minute; a row without a time meets any.
        where
            Field -> text of its value.

        Raises
        ------
        BadValue
            A value that its column cannot hold.
        NotKnown
            A column that rows cannot be chosen by.
        """
        keep = np.ones(len(self), np.bool_)
        if bbox is not None:
            # The last entry serves -1, a row without a shape.
            keep &= np.append(_meets(self.shapes, bbox), True)[self.place]
        if minutes is not None and self.since is not None and self.until is not None:
            keep &= (self.since <= minutes[1]) & (self.until >= minutes[0])
        for name, text in (where or {}).items():
            if name not in self.picks:
                raise NotKnown(f"Expected a column of {', '.join(self.picks)}, got {name!r}")
            keep &= self.picks[name](text)
        return np.flatnonzero(keep)

    def row(self, row_id: str) -> Row:
        """The row of an id; `NotKnown` if there is none."""
        position = self.find(row_id)
        if position is None:
            raise NotKnown(f"Expected the id of one of {self.name}, got {row_id!r}")
        return self.read(np.array([position]))[0]

    def pages(self) -> Iterator[list[Row]]:
        """All rows, some at a time."""
        for start in range(0, len(self), ROWS_AT_A_TIME):
            yield self.read(np.arange(start, min(start + ROWS_AT_A_TIME, len(self))))

    @cached_property
    def bounds(self) -> Box | None:
        """West, south, east, north of all shapes; None where there are none."""
        used = self.shapes[np.unique(self.place[self.place >= 0])]
        placed = used[~(shapely.is_missing(used) | shapely.is_empty(used))]
        if len(placed) == 0:
            return None
        west, south, east, north = (float(edge) for edge in shapely.total_bounds(placed))
        return west, south, east, north

    @cached_property
    def interval(self) -> tuple[str | None, str | None] | None:
        """First and last moment as RFC 3339 UTC, None where open; None without times."""
        if self.since is None or self.until is None or len(self) == 0:
            return None
        first, last = int(self.since.min()), int(self.until.max())
        return (
            None if first == ALWAYS else self._moment(first),
            None if last == FOR_EVER else self._moment(last),
        )

    def _moment(self, minutes: int) -> str:
        local = (_EPOCH + timedelta(minutes=minutes)).replace(tzinfo=self.zone)
        return local.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


class Source(Protocol):
    """Whose collections they are: the team's, with all there is, or the public's."""

    @property
    def title(self) -> str: ...

    @property
    def statement(self) -> str:
        """In words: what is shown, and what was generalised or withheld."""
        ...

    @property
    def licence(self) -> str | None:
        """The terms under which the data may be used; None where none are named."""
        ...

    @property
    def of_trail(self) -> Sequence[tuple[Field, str]]:
        """Columns with one value for the whole trail, for tables that are put together."""
        ...

    @property
    def about(self) -> Mapping[str, Any]:
        """Further facts for programs, by name: members of a GeoJSON file."""
        ...

    @property
    def names(self) -> tuple[str, ...]: ...

    def collection(self, name: str) -> Collection:
        """The collection of that name; `NotKnown` if there is none."""
        ...


def _meets(shapes: NDArray[Any], bbox: Box) -> NDArray[np.bool_]:
    west, south, east, north = bbox
    parts = [bbox] if west <= east else [(west, south, 180.0, north), (-180.0, south, east, north)]
    meets: NDArray[np.bool_] = shapely.is_missing(shapes) | shapely.is_empty(shapes)
    for part in parts:
        meets = meets | shapely.intersects(shapes, shapely.box(*part))
    return meets


def pick_by(values: NDArray[Any], kind: Storage, column: str) -> Pick:
    """Chooses rows whose value equals a text: as a number where the column holds numbers."""

    def pick(text: str) -> NDArray[np.bool_]:
        if kind in ("INTEGER", "REAL"):
            try:
                wanted: Any = float(text)
            except ValueError:
                raise BadValue("a number", repr(text), column=column) from None
        else:
            wanted = text
        return np.asarray(values == wanted, np.bool_)

    return pick


def pick_by_code(codes: NDArray[Any], words: Sequence[str]) -> Pick:
    """Chooses rows by a word that stands for a code; no row where no code has that word."""

    def pick(text: str) -> NDArray[np.bool_]:
        wanted = words.index(text) if text in words else None
        return np.zeros(len(codes), np.bool_) if wanted is None else codes == wanted

    return pick


def cells(values: Sequence[Any], kind: Storage) -> list[Any]:
    """The values of a column as plain text and numbers; None where nothing is recorded."""
    missing = pd.isna(np.asarray(values, dtype=object))
    whole = kind == "INTEGER"
    return [
        None if gone else int(value) if whole else value
        for value, gone in zip(values, missing, strict=True)
    ]


def in_memory(
    frame: pd.DataFrame,
    *,
    name: str,
    title: str,
    note: str,
    geometry: Geometry,
    fields: tuple[Field, ...],
    zone: ZoneInfo,
    ids: Sequence[str | int],
    shapes: NDArray[Any],
    key: tuple[str, ...] = (),
    since: NDArray[np.int64] | None = None,
    until: NDArray[np.int64] | None = None,
    picked: Sequence[str] = (),
) -> Collection:
    """A collection of the rows of a frame, which has a column for each of `fields`.

    Parameters
    ----------
    ids
        The lasting id of each row.
    shapes
        The shape of each row; None where one is missing.
    picked
        Columns that rows can be chosen by.
    """
    columns = {column.name: cells(frame[column.name].tolist(), column.storage) for column in fields}
    size = len(frame)
    outlines = _wound(shapes)
    position_of = {str(row_id): at for at, row_id in enumerate(ids)}

    def read(positions: NDArray[np.int64]) -> list[Row]:
        return [
            Row(ids[at], {name: column[at] for name, column in columns.items()}, outlines[at])
            for at in positions.tolist()
        ]

    return Collection(
        name=name,
        title=title,
        note=note,
        geometry=geometry,
        fields=fields,
        zone=zone,
        shapes=outlines,
        place=np.arange(size, dtype=np.int64),
        read=read,
        find=position_of.get,
        key=key,
        since=since,
        until=until,
        picks={
            column.name: pick_by(
                np.array(columns[column.name], object), column.storage, column.name
            )
            for column in fields
            if column.name in picked
        },
    )


def _wound(shapes: NDArray[Any]) -> NDArray[Any]:
    """Shapes with outer rings counterclockwise, as RFC 7946, 3.1.6 has them."""
    wound: NDArray[Any] = shapely.orient_polygons(np.asarray(shapes, dtype=object))
    return wound


def days_held(
    first: Sequence[str | None], gone: Sequence[str | None]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """`since` and `until` from the first day and the first day no longer, None = open."""
    since = [ALWAYS if day is None else day_minute(day) for day in first]
    until = [FOR_EVER if day is None else day_minute(day) - 1 for day in gone]
    return np.array(since, np.int64), np.array(until, np.int64)


def day_minute(day: str) -> int:
    """The first minute of an ISO day."""
    return (datetime.fromisoformat(day) - _EPOCH).days * MINUTES_A_DAY
