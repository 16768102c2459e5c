"""A trail file: open, read, write. The only module that reads or changes one."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any, Self

import geopandas as gpd

from layers.errors import NotATrail, NotKnown
from layers.trail import geopackage
from layers.trail.changes import FORGET_OLD, SINCE, Changes
from layers.trail.coding import CODED_COLUMNS, code_visits
from layers.trail.connection import (
    connect,
    connect_to_read,
    expect_file,
    file_numbers,
    fold_log,
    log_bytes,
    moved,
    rows_readable,
    translated,
)
from layers.trail.frames import frame_of
from layers.trail.inserting import insert_rows
from layers.trail.migrations import format_number
from layers.trail.migrations.upgrade import bring_up_to_date
from layers.trail.schema import FORMAT, TABLES, VISITS
from layers.trail.settings import Settings
from layers.trail.visits import Visits
from layers.trail.whole_files import (
    OWNER_ONLY,
    copy_whole,
    expect_new,
    passing_folder,
    put_in_place,
)
from layers.trail.words import PUBLIC, one_word

CURRENT = (
    "visits.withdraws IS NOT 'yes' AND NOT EXISTS"
    " (SELECT 1 FROM visits AS later WHERE later.replaces = visits.visit_id)"
)
"""SQL: whether a row of `visits` holds; it was neither replaced, nor takes one back."""
# A row for another box may correct a visit that was recorded for this one by mistake.
_OF_BOX_OR_REPLACING = " WHERE box = ?1 OR replaces IN (SELECT visit_id FROM visits WHERE box = ?1)"


class Trail:
    """An open trail file.

    One connection, for one thread at a time. Use as a context manager, or close it.
    """

    def __init__(self, path: Path, connection: sqlite3.Connection) -> None:
        self.path = path
        self._file_numbers = file_numbers(path)
        self._connection = connection
        self._seen_data_version = -1

    @classmethod
    def create(cls, path: Path, settings: Settings) -> Self:
        """Make a new trail file; an existing file is never overwritten.

        Raises
        ------
        Conflict
            There is a file of that name already.
        StorageFull
            The folder cannot be written.
        """
        expect_new(path)
        with passing_folder(path.parent) as folder:
            part = folder / path.name
            part.touch(mode=OWNER_ONLY)
            with translated(path), closing(connect(part, busy_s=10.0)) as connection:
                connection.execute(f"PRAGMA application_id = {geopackage.APPLICATION_ID}")
                connection.execute(f"PRAGMA user_version = {geopackage.USER_VERSION}")
                connection.executescript(f"BEGIN IMMEDIATE;{geopackage.empty_trail_sql()}")
                row = settings.as_row() | {"format": FORMAT, "version": 0}
                insert_rows(connection, "trail", [row])
                connection.execute("COMMIT")
            put_in_place(part, path)
        return cls.open(path)

    @classmethod
    def open(cls, path: Path, *, busy_s: float = 10.0) -> Self:
        """Open a trail file; an older one is backed up and brought to today's format first.

        Parameters
        ----------
        busy_s
            How long a write waits for another program's lock before `TrailBusy`.

        Raises
        ------
        NotATrail
            There is no such file, it is not a trail file, or it is of a newer format.
        StorageFull
            It is of an older format and cannot be written.
        """
        expect_file(path)
        with translated(path):
            connection = connect(path, busy_s=busy_s)
            try:
                bring_up_to_date(connection, path)
            except BaseException:
                connection.close()
                raise
        return cls(path, connection)

    @classmethod
    def open_as_it_is(cls, path: Path) -> Self:
        """Open a trail file of any format only for `snapshot`; nothing is changed.

        Raises
        ------
        NotATrail
            There is no such file, or it is not a trail file.
        """
        expect_file(path)
        with translated(path):
            trail = cls(path, connect_to_read(path))
        try:
            format_number(trail._trail_row()["format"])
        except BaseException:
            trail.close()
            raise
        return trail

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

    def fold_log(self) -> None:
        """See `connection.fold_log`."""
        if log_bytes(self.path) and self.is_in_place():
            fold_log(self._connection)

    @property
    def file_number(self) -> int:
        """What tells the file that is open from another of its name."""
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

    def change_settings(self, **values: Any) -> Settings:
        """Change some settings by name; the new settings, checked."""
        settings = replace(self.settings(), **values)
        row = settings.as_row()
        with self.write() as connection:
            named = ", ".join(f'"{name}" = :{name}' for name in row)
            connection.execute(f"UPDATE trail SET {named}", row)
        return settings

    # Reading

    def rows(self, sql: str, values: Sequence[Any] = ()) -> list[tuple[Any, ...]]:
        """The rows of a query, for questions that no method here answers."""
        with translated(self.path):
            return self._connection.execute(sql, values).fetchall()

    def _features(self, name: str, *, order: str) -> gpd.GeoDataFrame:
        table = TABLES[name]
        columns = ", ".join(f'"{column}"' for column in table.columns)
        rows = self.rows(f"SELECT fid, {columns}, geom FROM {name} ORDER BY {order}")
        with rows_readable(self.path, name):
            return frame_of(rows, table)

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
        """
        settings = self.settings()
        where, values = ("", ()) if box is None else (_OF_BOX_OR_REPLACING, (box,))
        names = ", ".join(CODED_COLUMNS)
        rows = self.rows(f"SELECT {names} FROM visits{where} ORDER BY fid", values)
        ids = self.box_ids() if box is None else [box]
        with rows_readable(self.path, "visits"):
            visits = code_visits(
                rows,
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

    def visit(self, visit_id: str) -> dict[str, Any]:
        """One visit in whole words; `NotKnown` if there is none of that id."""
        rows = self._visit_rows("WHERE visit_id = ?", (visit_id,))
        if not rows:
            raise NotKnown(f"Expected the id of a visit, got {visit_id!r}")
        return rows[0]

    # Writing

    @contextmanager
    def write(self) -> Iterator[sqlite3.Connection]:
        """One transaction: all of it is on disk when the block ends, or none of it.

        It is in the file itself then, not in the write-ahead log beside it alone, unless
        another program reads older rows just now; `LiveTrail` sees to what is left.

        Raises
        ------
        TrailBusy
            Another program held the lock for longer than `busy_s`.
        NotATrail
            The file was moved or replaced since it was opened.
        """
        with translated(self.path):
            self._connection.execute("BEGIN IMMEDIATE")
            try:
                # Looked at under the lock: a row for a file that was replaced would go with it.
                if not self.is_in_place():
                    raise moved(self.path)
                yield self._connection
                self._connection.execute(FORGET_OLD)
                self._connection.execute("COMMIT")
            except BaseException:
                if self._connection.in_transaction:
                    self._connection.execute("ROLLBACK")
                raise
        fold_log(self._connection)

    def add_rows(
        self,
        table: str,
        rows: Iterable[Mapping[str, Any]],
        *,
        before_commit: Callable[[], None] | None = None,
    ) -> int:
        """Add rows to a table in one transaction; how many were added.

        Parameters
        ----------
        rows
            Mappings of column name to value; a shape in EPSG:4326 under `geometry`;
            days and moments as date and datetime values or as stored text.
        before_commit
            Called while the rows are in and others wait; if it raises, nothing is added.

        Raises
        ------
        Conflict
            A box id or visit id is taken; nothing was added.
        """
        with self.write() as connection:
            added = insert_rows(connection, table, rows)
            if before_commit is not None:
                before_commit()
            return added

    def mark_boxes(self, words_of: Mapping[str, str]) -> None:
        """Change how boxes are shown to the public: box id to one of `words.PUBLIC`.

        Raises
        ------
        NotKnown
            There is no box of that id; nothing was changed.
        """
        with self.write() as connection:
            for box, word in words_of.items():
                changed = connection.execute(
                    "UPDATE boxes SET public = ? WHERE box = ?",
                    (one_word(word, "public", PUBLIC), box),
                )
                if changed.rowcount != 1:
                    raise NotKnown(f"Expected the id of a box, got {box!r}")

    def snapshot(self, target: Path) -> None:
        """A copy of the file as it is now, safe for GDAL, download or backup.

        Raises
        ------
        Conflict
            There is a file of that name already.
        StorageFull
            It cannot be written there; nothing is left of it.
        """
        copy_whole(self._connection, target)
