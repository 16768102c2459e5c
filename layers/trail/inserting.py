"""Rows into a table of a trail file, their values as the file keeps them."""

from __future__ import annotations

import math
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from datetime import UTC, date, datetime
from typing import Any

import numpy as np
from shapely.geometry.base import BaseGeometry

from layers.errors import Conflict, NotKnown
from layers.trail.geometry import to_blob
from layers.trail.geopackage import LOG_STAGED_VISITS, column, triggers
from layers.trail.schema import TABLES

_BY_ROW = ("boxround_visits_insert", "boxround_visits_sound", "boxround_visits_complete")
"""Triggers of a row that is added; after the first, those that look at the row alone."""

_CACHE = -64_000
"""Room of SQLite's for changed pages, in its unit: 64 MB. With the usual 2 MB the index of a
million ids is read and written again and again."""

_AS_STORED = frozenset({str, int, type(None)})


def insert_rows(
    connection: sqlite3.Connection, name: str, rows: Iterable[Mapping[str, Any]]
) -> int:
    """Insert rows into the table of a name; how many.

    Raises
    ------
    Conflict
        An id is taken, or the table can hold no such row.
    """
    before = connection.total_changes
    with _translated(name):
        marks = ", ".join("?" * len(_columns(name)))
        cursor = connection.executemany(
            f"INSERT INTO {name} ({_quoted(name)}) VALUES ({marks})", _cells(name, rows)
        )
    return cursor.rowcount if connection.total_changes > before else 0


@contextmanager
def staged(
    connection: sqlite3.Connection, name: str, rows: Iterable[Mapping[str, Any]]
) -> Iterator[Callable[[], int]]:
    """Rows in a temporary table while the block lasts; gives what inserts them, and how many.

    Others can write while the rows are made, and wait only while they are inserted. Visits are
    checked and completed by the file's own triggers as they are staged, and logged once a box:
    with that and room in memory a million are inserted in a third of the time. The table itself
    refuses an id that is taken.
    """
    by_row = _BY_ROW if name == "visits" else ()
    columns = ", ".join(map(column, TABLES[name].fields))
    shape = ", geom" if TABLES[name].geometry else ""
    connection.execute(f"CREATE TEMP TABLE staged (fid INTEGER PRIMARY KEY, {columns}{shape})")
    try:
        for one in by_row[1:]:
            connection.execute(_for_staged(triggers()[one]))
        marks = ", ".join("?" * len(_columns(name)))
        # A transaction of temporary tables alone locks nothing of the trail.
        connection.execute("BEGIN")
        with _translated(name):
            connection.executemany(
                f"INSERT INTO staged ({_quoted(name)}) VALUES ({marks})", _cells(name, rows)
            )
        if by_row:
            connection.execute("CREATE TEMP TABLE staged_boxes AS SELECT DISTINCT box FROM staged")
        connection.execute("COMMIT")
        (usual,) = connection.execute("PRAGMA main.cache_size").fetchone()
        connection.execute(f"PRAGMA main.cache_size = {_CACHE}")

        def insert() -> int:
            for one in by_row:
                connection.execute(f"DROP TRIGGER main.{one}")
            with _translated(name):
                added = connection.execute(
                    f"INSERT INTO main.{name} ({_quoted(name)})"
                    f" SELECT {_quoted(name)} FROM staged ORDER BY fid"
                ).rowcount
            for sql in (
                *(LOG_STAGED_VISITS if by_row else ()),
                *(triggers()[one] for one in by_row),
            ):
                connection.execute(sql)
            return added

        try:
            yield insert
        finally:
            connection.execute(f"PRAGMA main.cache_size = {usual}")
    finally:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        connection.execute("DROP TABLE temp.staged")
        connection.execute("DROP TABLE IF EXISTS temp.staged_boxes")


def _for_staged(trigger: str) -> str:
    """The same trigger on the temporary table."""
    for was, now in (
        ("CREATE TRIGGER", "CREATE TEMP TRIGGER"),
        ("INSERT ON visits", "INSERT ON staged"),
        ("UPDATE visits", "UPDATE staged"),
    ):
        trigger = trigger.replace(was, now)
    return trigger


def _columns(name: str) -> list[str]:
    table = TABLES[name]
    return [*table.columns, *(["geom"] if table.geometry else [])]


def _quoted(name: str) -> str:
    return ", ".join(f'"{column}"' for column in _columns(name))


def _cells(name: str, rows: Iterable[Mapping[str, Any]]) -> Iterator[list[Any]]:
    """The cells of each row as the table holds them."""
    table = TABLES[name]
    known = {*table.columns, *(["geometry"] if table.geometry else [])}
    for row in rows:
        if not row.keys() <= known:
            strange = ", ".join(sorted(row.keys() - known))
            raise NotKnown(f"Expected columns of table {name}, got {strange}")
        found = map(row.get, table.columns)
        cells = [cell if type(cell) in _AS_STORED else _stored(cell) for cell in found]
        if table.geometry is not None:
            shape: BaseGeometry | None = row.get("geometry")
            cells.append(None if shape is None else to_blob(shape))
        yield cells


@contextmanager
def _translated(name: str) -> Iterator[None]:
    try:
        yield
    except sqlite3.IntegrityError as error:
        taken = "UNIQUE" in str(error) or "is taken" in str(error)
        raise Conflict(
            f"Expected a new id in table {name}, got one that is taken"
            if taken
            else f"Expected rows that table {name} can hold: {error}"
        ) from error


def _stored(value: Any) -> Any:
    if isinstance(value, datetime):
        return value.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.") + (
            f"{value.microsecond // 1000:03d}Z"
        )
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float) and math.isnan(value):
        return None
    # SQLite would keep a number of NumPy's as a blob.
    return value.item() if isinstance(value, np.generic) else value
