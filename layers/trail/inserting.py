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
from layers.trail.geopackage import column, triggers
from layers.trail.schema import TABLES

_CHECK = "boxround_visits_sound"

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
    checked by the file's own trigger as they are staged, and not once more under the lock: it
    takes half the time of inserting. The table itself refuses an id that is taken.
    """
    check = triggers()[_CHECK] if name == "visits" else None
    columns = ", ".join(map(column, TABLES[name].fields))
    shape = ", geom" if TABLES[name].geometry else ""
    connection.execute(f"CREATE TEMP TABLE staged (fid INTEGER PRIMARY KEY, {columns}{shape})")
    try:
        if check is not None:
            connection.execute(
                check.replace("CREATE TRIGGER", "CREATE TEMP TRIGGER").replace(
                    "BEFORE INSERT ON visits", "BEFORE INSERT ON staged"
                )
            )
        marks = ", ".join("?" * len(_columns(name)))
        # A transaction of temporary tables alone locks nothing of the trail.
        connection.execute("BEGIN")
        with _translated(name):
            connection.executemany(
                f"INSERT INTO staged ({_quoted(name)}) VALUES ({marks})", _cells(name, rows)
            )
        connection.execute("COMMIT")

        def insert() -> int:
            into = f"INSERT INTO main.{name} ({_quoted(name)})"
            if check is not None:
                connection.execute(f"DROP TRIGGER main.{_CHECK}")
            with _translated(name):
                added = connection.execute(
                    f"{into} SELECT {_quoted(name)} FROM staged ORDER BY fid"
                ).rowcount
            if check is not None:
                connection.execute(check)
            return added

        yield insert
    finally:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        connection.execute("DROP TABLE temp.staged")


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
