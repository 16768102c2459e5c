"""Rows into a table of a trail file, their values as the file keeps them."""

from __future__ import annotations

import math
import sqlite3
from collections.abc import Iterable, Mapping
from datetime import UTC, date, datetime
from typing import Any

import numpy as np
from shapely.geometry.base import BaseGeometry

from layers.errors import Conflict, NotKnown
from layers.trail.geometry import to_blob
from layers.trail.schema import TABLES


def insert_rows(
    connection: sqlite3.Connection, name: str, rows: Iterable[Mapping[str, Any]]
) -> int:
    """Insert rows into the table of a name; how many.

    Raises
    ------
    Conflict
        An id is taken, or the table can hold no such row.
    """
    table = TABLES[name]
    columns = [*table.columns, *(["geom"] if table.geometry else [])]
    known = {*table.columns, *(["geometry"] if table.geometry else [])}

    def values(row: Mapping[str, Any]) -> list[Any]:
        strange = row.keys() - known
        if strange:
            raise NotKnown(f"Expected columns of table {name}, got {', '.join(sorted(strange))}")
        cells = [_stored(row.get(column)) for column in table.columns]
        if table.geometry is not None:
            shape: BaseGeometry | None = row.get("geometry")
            cells.append(None if shape is None else to_blob(shape))
        return cells

    marks = ", ".join("?" * len(columns))
    quoted = ", ".join(f'"{column}"' for column in columns)
    before = connection.total_changes
    try:
        cursor = connection.executemany(
            f"INSERT INTO {name} ({quoted}) VALUES ({marks})", (values(row) for row in rows)
        )
    except sqlite3.IntegrityError as error:
        taken = "UNIQUE" in str(error) or "is taken" in str(error)
        raise Conflict(
            f"Expected a new id in table {name}, got one that is taken"
            if taken
            else f"Expected rows that table {name} can hold: {error}"
        ) from error
    return cursor.rowcount if connection.total_changes > before else 0


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
