"""An opened file is brought to the format, the columns and the triggers of today."""

from __future__ import annotations

import os
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from layers.errors import EnvironmentFault, NotATrail, StorageFull
from layers.trail import geopackage
from layers.trail.connection import connect, connect_to_read, expect_file, transaction, translated
from layers.trail.identity import name_trail
from layers.trail.migrations import STEPS, TODAY, format_number
from layers.trail.schema import FORMAT, TABLES
from layers.trail.whole_files import copy_whole, free_name

Differences = tuple[list[str], list[str]]


def bring_up_to_date(connection: sqlite3.Connection, path: Path) -> None:
    """Change the file where it is older than the program: all of it, or nothing.

    A file of an older format is first copied by `back_up`. A declared column that is
    missing is added, empty; triggers of ours that differ are made anew. A file that
    cannot be written, but lacks triggers alone, can be used all the same.

    Raises
    ------
    NotATrail
        It is no trail file, or one of a newer format.
    StorageFull
        It is older and cannot be written, or there is no room for the backup.
    """
    number = _number(connection, path)
    columns, triggers = _differences(connection)
    if number == TODAY and not columns and not triggers:
        return
    try:
        with translated(path), transaction(connection):
            # Another process may have been first.
            number = _number(connection, path)
            if number < TODAY:
                back_up(path, number)
            _change(connection, number)
    except EnvironmentFault as error:
        if number == TODAY and not columns:
            return
        raise StorageFull(
            f"{path.name} is a trail of format {number} and has to be brought to format {TODAY}"
            f" first, which failed; nothing was changed. Copy it with boxround backup to where"
            f" it can be written, and use the copy. ({error})"
        ) from error


def _number(connection: sqlite3.Connection, path: Path) -> int:
    """The number of the file's format, which is one that this program can read."""
    try:
        rows = connection.execute("SELECT format FROM trail").fetchall()
    except sqlite3.DatabaseError as error:
        raise NotATrail(f"Expected a trail file, got {path.name}: {error}") from error
    if len(rows) != 1:
        raise NotATrail(f"Expected one row in table trail of {path.name}, got {len(rows)}")
    number = format_number(rows[0][0])
    if number > TODAY:
        raise NotATrail(
            f"{path.name} is a trail of format {number}, made by a newer Boxround; this one"
            f" reads formats up to {TODAY}. Use the newer program."
        )
    return number


def _differences(connection: sqlite3.Connection) -> Differences:
    """SQL that adds each missing column; names of triggers of ours that are not as of today."""
    added = []
    for table in TABLES.values():
        present = {row[1] for row in connection.execute(f"PRAGMA table_info({table.name})")}
        # A missing table is for `check_trail` to report.
        missing = [one for one in table.fields if present and one.name not in present]
        added += [
            f"ALTER TABLE {table.name} ADD COLUMN {geopackage.column(one)}" for one in missing
        ]
    ours = geopackage.triggers()
    there = dict(connection.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"))
    old = [name for name in there if name.startswith("boxround_") and name not in ours]
    new = [name for name, sql in ours.items() if name.startswith("boxround_visits_")]
    return added, old + [name for name in new if there.get(name) != ours[name]]


def _change(connection: sqlite3.Connection, number: int) -> None:
    """Run the steps from a format on, inside a transaction."""
    ours = geopackage.triggers()
    columns, triggers = _differences(connection)
    if number < TODAY or columns:
        triggers = [name for name in ours if name.startswith("boxround_")]
    for name in triggers:
        connection.execute(f"DROP TRIGGER IF EXISTS {name}")
    for one in range(number + 1, TODAY + 1):
        STEPS[one](connection)
    for sql in columns:
        connection.execute(sql)
    name_trail(connection)
    if number < TODAY or columns:
        connection.execute("UPDATE trail SET format = ?", (FORMAT,))
        # Whoever has read the file before reads all of it anew.
        connection.execute("INSERT INTO boxround_changes (changed) VALUES ('trail')")
        connection.execute("UPDATE trail SET version = (SELECT max(version) FROM boxround_changes)")
    for name in triggers:
        if name in ours:
            connection.execute(ours[name])


def back_up(path: Path, number: int) -> Path:
    """A copy of the file beside it, as it was last committed: `trail.format-1.gpkg`.

    The caller holds the lock for writing, so nothing is committed meanwhile.

    Raises
    ------
    StorageFull
        It could not be written.
    """
    target = free_name(path, f"format-{number}")
    with translated(path), closing(connect_to_read(path)) as reader:
        copy_whole(reader, target)
    shutil.copymode(path, target)
    return target


@contextmanager
def readable(path: Path) -> Iterator[Path]:
    """The file itself, or a passing copy brought to today's format where it is older.

    The file stays as it is, and need not be one that can be written.

    Raises
    ------
    NotATrail
        There is no such file, it is no trail file, or one of a newer format.
    """
    expect_file(path)
    with tempfile.TemporaryDirectory(prefix="boxround-") as folder:
        copy = Path(folder) / path.name
        with translated(path), closing(connect_to_read(path)) as reader:
            number = _number(reader, path)
            if number == TODAY and not _differences(reader)[0] and _can_be_written(path):
                copy = path
            else:
                reader.execute("VACUUM INTO ?", (str(copy),))
        if copy != path:
            with (
                translated(copy),
                closing(connect(copy, busy_s=10.0)) as connection,
                transaction(connection),
            ):
                _change(connection, number)
        yield copy


def _can_be_written(path: Path) -> bool:
    return os.access(path, os.W_OK) and os.access(path.parent, os.W_OK)
