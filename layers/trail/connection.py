"""The one way to open a trail file: stdlib `sqlite3`, write-ahead log, full sync.

Two SQLite libraries on one file in one process lose acknowledged rows: closing
any other handle on the file drops the locks of this one. So nothing in a serving
process may open a live trail through GDAL, nor with a plain `open()`; see
`Trail.snapshot`.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from layers.errors import EnvironmentFault, NotATrail, StorageFull, TrailBusy
from layers.trail.geometry import SQL_FUNCTIONS

_BUSY = {"SQLITE_BUSY", "SQLITE_LOCKED"}
_UNWRITABLE = {
    "SQLITE_FULL": "the disk is full. Make room",
    "SQLITE_READONLY": "it is read-only. Let this user write the file and its folder",
    "SQLITE_PERM": "it is read-only. Let this user write the file and its folder",
    "SQLITE_IOERR": "the disk failed. Look at the disk, or at the line to it",
}
"""SQLite's result code -> what is wrong, and what to do."""
_DAMAGED = {"SQLITE_CORRUPT", "SQLITE_NOTADB", "SQLITE_CANTOPEN"}


def connect(path: Path, *, busy_s: float) -> sqlite3.Connection:
    """A connection to a trail file that exists, or that `create=True` callers make.

    Autocommit: a transaction begins only with `BEGIN`. The caller
    translates errors with `translated`.
    """
    connection = sqlite3.connect(
        f"{path.absolute().as_uri()}?mode=rw",
        uri=True,
        timeout=busy_s,
        isolation_level=None,
        check_same_thread=False,
    )
    try:
        for name, function in SQL_FUNCTIONS.items():
            connection.create_function(name, 1, function, deterministic=True)
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("PRAGMA foreign_keys = ON")
    except BaseException:
        connection.close()
        raise
    return connection


@contextmanager
def transaction(connection: sqlite3.Connection) -> Iterator[sqlite3.Connection]:
    """One transaction that locks out other writers: committed when the block ends, or undone."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield connection
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise


def fold_log(connection: sqlite3.Connection) -> None:
    """Move what the write-ahead log holds into the file, so that the file alone is whole.

    The log is left empty, so that it can do no harm beside another file of that name. Does not
    wait: rows of which another program reads an older state stay in the log. On a busy disk, where
    a save took 3 ms, it took 10 ms more.
    """
    # What is committed stays committed, in the log, where this fails.
    with suppress(sqlite3.Error):
        (busy_ms,) = connection.execute("PRAGMA busy_timeout").fetchone()
        connection.execute("PRAGMA busy_timeout = 0")
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
        connection.execute(f"PRAGMA busy_timeout = {busy_ms}")


def log_path(path: Path) -> Path:
    """Where SQLite keeps the write-ahead log of a file."""
    return path.with_name(f"{path.name}-wal")


def log_bytes(path: Path) -> int:
    """Size of the write-ahead log beside a file; 0 where there is none."""
    try:
        return log_path(path).stat().st_size
    except OSError:
        return 0


def file_numbers(path: Path) -> tuple[int, int]:
    """What distinguishes a file from another that takes its name, and the same of its log's index.

    After a file was replaced another program may delete the index, and who has none in common
    does not keep out of each other's way. 0 where there is no such file. Only looked up by
    name: opening a file and closing it would drop SQLite's locks on it.
    """
    return _number(path), _number(path.with_name(f"{path.name}-shm"))


def _number(path: Path) -> int:
    try:
        return path.stat().st_ino
    except OSError:
        return 0


def moved(path: Path) -> NotATrail:
    """The error about a file that was there when it was opened."""
    return NotATrail(
        f"{path.name} was moved or replaced while it was open; nothing was changed."
        " Put it back, or try again with the file that is there now"
    )


def expect_file(path: Path) -> None:
    """See that there is a file; `NotATrail` where there is none."""
    if not path.is_file():
        raise NotATrail(f"Expected a trail file, but there is no file {path}")


def connect_to_read(path: Path) -> sqlite3.Connection:
    """A connection that changes nothing, also to a file that cannot be written."""
    try:
        return _connected_to_read(path, "mode=ro")
    except sqlite3.OperationalError:
        if log_bytes(path):
            raise
        # Where the folder cannot be written, SQLite opens a file with a write-ahead log
        # only as one that no program changes; it is one, since its log is empty.
        return _connected_to_read(path, "mode=ro&immutable=1")


def _connected_to_read(path: Path, options: str) -> sqlite3.Connection:
    name = f"{path.absolute().as_uri()}?{options}"
    connection = sqlite3.connect(name, uri=True, isolation_level=None)
    try:
        connection.execute("SELECT count(*) FROM sqlite_master")
    except BaseException:
        connection.close()
        raise
    return connection


@contextmanager
def translated(path: Path) -> Iterator[None]:
    """Turn SQLite's errors about a file into ours, at this one edge.

    Raises
    ------
    TrailBusy, StorageFull, NotATrail, EnvironmentFault
        By SQLite's result code; the original error is its cause.
    """
    try:
        yield
    except sqlite3.IntegrityError:
        raise
    except sqlite3.Error as error:
        raise as_ours(error, path) from error
    except UnicodeDecodeError as error:
        # SQLite's message quotes what is no text, and Python cannot pass it on.
        raise NotATrail(f"{path.name} is damaged: it holds text that is none") from error


@contextmanager
def rows_readable(path: Path, table: str) -> Iterator[None]:
    """Turn failures over a value that another program wrote into our error.

    Raises
    ------
    NotATrail
        Some row cannot be read.
    """
    try:
        yield
    except (ValueError, TypeError, AttributeError, OverflowError) as error:
        raise NotATrail(
            f"{path.name} holds a row of table {table} that cannot be read: {error}."
            f" boxround check {path.name} looks for such rows"
        ) from error


def as_ours(error: sqlite3.Error, path: Path) -> EnvironmentFault:
    """Our error for one of SQLite's about a file, by its result code."""
    code = "_".join(getattr(error, "sqlite_errorname", "").split("_")[:2])
    if code in _BUSY:
        return TrailBusy(
            f"Another program is writing to {path.name}; nothing was changed, try again"
        )
    if code in _UNWRITABLE:
        return StorageFull(
            f"{path.name} cannot be written: {_UNWRITABLE[code]}. Nothing was changed ({error})"
        )
    if code in _DAMAGED:
        return NotATrail(f"Expected a trail file, got {path.name}: {error}")
    return EnvironmentFault(f"{path.name} could not be used: {error}")
