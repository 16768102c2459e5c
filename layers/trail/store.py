"""A trail file: make, open, write; `reading` has the half that reads."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any, Self

from layers.errors import NotKnown
from layers.trail import geopackage
from layers.trail.changes import FORGET_OLD
from layers.trail.connection import (
    connect,
    connect_to_read,
    expect_file,
    fold_log,
    log_bytes,
    moved,
    transaction,
    translated,
)
from layers.trail.identity import Identity
from layers.trail.inserting import insert_rows, staged
from layers.trail.migrations import format_number
from layers.trail.migrations.upgrade import bring_up_to_date
from layers.trail.reading import ReadableTrail
from layers.trail.schema import FORMAT
from layers.trail.settings import Settings
from layers.trail.whole_files import (
    OWNER_ONLY,
    copy_whole,
    expect_new,
    passing_folder,
    put_in_place,
)
from layers.trail.words import PUBLIC, one_word


class Trail(ReadableTrail):
    """An open trail file.

    One connection, for one thread at a time. Use as a context manager, or close it.
    """

    @classmethod
    def create(cls, path: Path, settings: Settings, *, identity: Identity | None = None) -> Self:
        """Make a new trail file; an existing file is never overwritten.

        Parameters
        ----------
        identity
            The ids of the trail that it is a copy of; None = it is a new one.

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
                ids = (identity or Identity.new()).as_row()
                row = settings.as_row() | ids | {"format": FORMAT, "version": 0}
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

    def fold_log(self) -> None:
        """See `connection.fold_log`."""
        if log_bytes(self.path) and self.is_in_place():
            fold_log(self._connection)

    def change_settings(self, **values: Any) -> Settings:
        """Change some settings by name; the new settings, checked."""
        settings = replace(self.settings(), **values)
        row = settings.as_row()
        with self.write() as connection:
            named = ", ".join(f'"{name}" = :{name}' for name in row)
            connection.execute(f"UPDATE trail SET {named}", row)
        return settings

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
        with translated(self.path), transaction(self._connection):
            # Looked at under the lock: a row for a file that was replaced would go with it.
            if not self.is_in_place():
                raise moved(self.path)
            yield self._connection
            self._connection.execute(FORGET_OLD)
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

    def add_many(
        self,
        table: str,
        rows: Iterable[Mapping[str, Any]],
        *,
        before_commit: Callable[[], None] | None = None,
    ) -> int:
        """As `add_rows`; others can write until the last row was given."""
        with (
            translated(self.path),
            staged(self._connection, table, rows) as insert,
            self.write(),
        ):
            added = insert()
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
