"""Reading a trail file: its version, its settings and its rows."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any, Self

import geopandas as gpd

from layers.errors import NotATrail, NotKnown
from layers.trail.changes import SINCE, Changes
from layers.trail.coding import CODED_COLUMNS, code_visits
from layers.trail.connection import file_numbers, rows_readable, translated
from layers.trail.frames import frame_of
from layers.trail.identity import Identity
from layers.trail.schema import TABLES, VISITS
from layers.trail.settings import Settings
from layers.trail.visits import Visits

CURRENT = (
    "visits.withdraws IS NOT 'yes' AND NOT EXISTS"
    " (SELECT 1 FROM visits AS later WHERE later.replaces = visits.visit_id)"
)
"""SQL: whether a row of `visits` holds; it was neither replaced, nor takes one back."""
# A row for another box may correct a visit that was recorded for this one by mistake.
_OF_BOX_OR_REPLACING = " WHERE box = ?1 OR replaces IN (SELECT visit_id FROM visits WHERE box = ?1)"

# Rows that correct each other in a ring can only be written by another program.
_FIRST_ENTRY = """
WITH RECURSIVE entry (fid, visit_id, replaces, corrections) AS (
  SELECT fid, visit_id, replaces, 0 FROM visits
    WHERE fid IN (SELECT value FROM json_each(?))
  UNION ALL
  SELECT entry.fid, visits.visit_id, visits.replaces, corrections + 1
    FROM entry JOIN visits ON visits.visit_id = entry.replaces WHERE corrections < 1000)
SELECT fid, visit_id, max(corrections) FROM entry GROUP BY fid"""


class ReadableTrail:
    """The half of `Trail` that reads.

    One connection, for one thread at a time. Use as a context manager, or close it.
    """

    def __init__(self, path: Path, connection: sqlite3.Connection) -> None:
        self.path = path
        self._file_numbers = file_numbers(path)
        self._connection = connection
        self._seen_data_version = -1

    def close(self) -> None:
        """Close the file; what was acknowledged is on disk already."""
        self._connection.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *raised: object) -> None:
        self.close()

    def is_in_place(self) -> bool:
        """Whether the file under its name is still the one that is open here."""
        return file_numbers(self.path) == self._file_numbers

    @property
    def file_number(self) -> int:
        """What distinguishes the file that is open from another of its name."""
        return self._file_numbers[0]

    # Versions

    def version(self) -> int:
        """The number that rises with every change, whoever makes it."""
        number: int = self.rows("SELECT version FROM trail")[0][0]
        return number

    def changed(self) -> bool:
        """Whether another connection has committed since the last call; costs microseconds."""
        with translated(self.path):
            (number,) = self._connection.execute("PRAGMA data_version").fetchone()
        before, self._seen_data_version = self._seen_data_version, number
        return bool(number != before)

    def changes_since(self, version: int) -> Changes:
        """What changed after `version`."""
        rows = self.rows(SINCE, (version,))
        return Changes.of(rows, since=version, now=self.version())

    # Settings

    def _trail_row(self) -> dict[str, Any]:
        try:
            cursor = self._connection.execute("SELECT * FROM trail")
            names = [column[0] for column in cursor.description]
            rows = cursor.fetchall()
        except sqlite3.DatabaseError as error:
            raise NotATrail(f"Expected a trail file, got {self.path.name}: {error}") from error
        if len(rows) != 1:
            raise NotATrail(f"Expected one row in table trail of {self.path.name}, got {len(rows)}")
        return dict(zip(names, rows[0], strict=True))

    def settings(self) -> Settings:
        """The trail's settings; `BadValue` where someone wrote nonsense into its row."""
        return Settings.from_row(self._trail_row())

    def identity(self) -> Identity:
        """The ids of the trail; `BadValue` where someone took them out of its row."""
        return Identity.from_row(self._trail_row())

    # Reading

    def rows(self, sql: str, values: Sequence[Any] = ()) -> list[tuple[Any, ...]]:
        """The rows of a query, for questions that no method here answers."""
        with translated(self.path):
            return self._connection.execute(sql, values).fetchall()

    def _features(self, name: str, *, order: str) -> gpd.GeoDataFrame:
        """Rows of a table with shapes.

        Raises
        ------
        NotATrail
            The table and its index hold different rows: a page of the file is damaged or
            stands in another's place, which SQLite itself does not notice.
        """
        self._refuse_displaced_pages(name, check="integrity_check")
        table = TABLES[name]
        columns = ", ".join(f'"{column}"' for column in table.columns)
        rows = self.rows(f"SELECT fid, {columns}, geom FROM {name} ORDER BY {order}")
        with rows_readable(self.path, name):
            features = frame_of(rows, table)
        if self._is_of_another_table(name, features.geometry):
            raise self._displaced(name)
        return features

    def _refuse_displaced_pages(self, table: str, *, check: str) -> None:
        verdict = self.rows(f"PRAGMA {check}({table})")
        counted = self.rows(
            f"SELECT (SELECT count(*) FROM {table}) = (SELECT count(*) FROM {table} NOT INDEXED)"
        )
        if verdict != [("ok",)] or counted != [(1,)]:
            raise self._displaced(table)

    def _is_of_another_table(self, name: str, shapes: gpd.GeoSeries) -> bool:
        """Whether two tables' first pages changed places: each then holds the rows of the other,
        and its spatial index none of them.
        """
        kinds = set(shapes.dropna().geom_type.str.upper())
        if not kinds or TABLES[name].geometry in kinds:
            return False
        index = f"rtree_{name}_geom"
        indexed = self.rows("SELECT 1 FROM sqlite_master WHERE name = ?", (index,))
        return bool(indexed) and not self.rows(f"SELECT 1 FROM {index} LIMIT 1")

    def _displaced(self, table: str) -> NotATrail:
        return NotATrail(
            f"{self.path.name} is damaged: its table of {table} and its index differ."
            f" boxround doctor {self.path.name} says what to do"
        )

    def boxes(self) -> gpd.GeoDataFrame:
        """Boxes, sorted by id; missing text is None, missing numbers NaN."""
        return self._features("boxes", order="box")

    def paths(self) -> gpd.GeoDataFrame:
        """Paths, in the order they were added."""
        return self._features("paths", order="fid")

    def places(self) -> gpd.GeoDataFrame:
        """Places, in the order they were added."""
        return self._features("places", order="fid")

    def zones(self) -> gpd.GeoDataFrame:
        """Zones, in the order they were added."""
        return self._features("zones", order="fid")

    def box_ids(self) -> list[str]:
        """Ids of all boxes, sorted."""
        return [row[0] for row in self.rows("SELECT box FROM boxes ORDER BY box")]

    def visits(self, box: str | None = None) -> Visits:
        """Visits as coded columns, corrected rows included.

        With `box`, the visits of that box alone; its code is then 0.

        Raises
        ------
        NotATrail
            The rows are not in order, or their index holds more or fewer of them: a page
            stands in another's place. This takes a second at a million visits,
            where a comparison row by row takes nine. Of one box's visits nothing is compared.
        """
        if box is None:
            self._refuse_displaced_pages("visits", check="quick_check")
        settings = self.settings()
        where, values = ("", ()) if box is None else (_OF_BOX_OR_REPLACING, (box,))
        names = ", ".join(CODED_COLUMNS)
        ids = self.box_ids() if box is None else [box]
        with rows_readable(self.path, "visits"), translated(self.path):
            visits = code_visits(
                self._connection.execute(f"SELECT {names} FROM visits{where} ORDER BY fid", values),
                boxes=ids,
                timezone=settings.zone,
                signs_words=settings.words("signs"),
                actions_words=settings.words("actions"),
            )
        if box is not None and len(visits.boxes) > 1:
            return replace(visits.take(visits.box == 0), boxes=(box,))
        return visits

    def _visit_rows(self, rest: str, values: Sequence[Any] = ()) -> list[dict[str, Any]]:
        columns = VISITS.columns
        rows = self.rows(f"SELECT {', '.join(columns)} FROM visits {rest}", values)
        return [dict(zip(columns, row, strict=True)) for row in rows]

    def visit_rows(self, box: str | None = None, *, current: bool = True) -> list[dict[str, Any]]:
        """Visits in whole words as stored, oldest first.

        With `current` (the default) a row that a later row replaces is left out, and one that
        withdraws another.
        """
        return self._visit_rows(
            f"WHERE {'?1 ISNULL' if box is None else 'box = ?1'}"
            f" AND {CURRENT if current else 'TRUE'}"
            " ORDER BY seen_on, seen_at, fid",
            (box,),
        )

    def visits_entered(
        self,
        *,
        limit: int,
        box: str | None = None,
        since: date | None = None,
        after: str | None = None,
        current: bool = True,
    ) -> list[dict[str, Any]]:
        """Visits in whole words, in the order they were entered.

        Parameters
        ----------
        since
            Only visits made on this day or later.
        after
            Only visits entered after the one of this id; `NotKnown` if there is none.
        """
        first = 0
        if after is not None:
            self.visit(after)
            first = self.rows("SELECT fid FROM visits WHERE visit_id = ?", (after,))[0][0]
        return self._visit_rows(
            f"WHERE fid > ?1 AND {CURRENT if current else 'TRUE'}"
            " AND (?2 ISNULL OR box = ?2) AND (?3 ISNULL OR seen_on >= ?3) ORDER BY fid LIMIT ?4",
            (first, box, since and since.isoformat(), limit),
        )

    def first_entries(self, rows: Sequence[int]) -> dict[int, str]:
        """By row number, the id under which a visit was first entered, before any correction."""
        return {fid: visit for fid, visit, _ in self.rows(_FIRST_ENTRY, (json.dumps(rows),))}

    def visit(self, visit_id: str) -> dict[str, Any]:
        """One visit in whole words; `NotKnown` if there is none of that id."""
        rows = self._visit_rows("WHERE visit_id = ?", (visit_id,))
        if not rows:
            raise NotKnown(f"Expected the id of a visit, got {visit_id!r}")
        return rows[0]
