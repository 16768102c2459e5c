"""The one way to open a trail file: stdlib `sqlite3`, write-ahead log, full sync.

Two SQLite libraries on one file in one process lose acknowledged rows: closing
any other handle on the file drops the locks of this one. So nothing in a serving
process may open a live trail through GDAL, nor with a plain `open()`; see
`Trail.snapshot`.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from layers.errors import EnvironmentFault, NotATrail, StorageFull, TrailBusy
from layers.trail.geometry import SQL_FUNCTIONS

_BUSY = {"SQLITE_BUSY", "SQLITE_LOCKED"}
_FULL = {"SQLITE_FULL", "SQLITE_READONLY", "SQLITE_IOERR", "SQLITE_PERM"}
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


def connect_to_read(path: Path) -> sqlite3.Connection:
    """A connection that changes nothing, also to a file that cannot be written."""
    try:
        return _connected_to_read(path, "mode=ro")
    except sqlite3.OperationalError:
        log = path.with_name(f"{path.name}-wal")
        if log.exists() and log.stat().st_size:
            raise
        # Where the folder cannot be written, SQLite opens a file with a write-ahead log
        # only as one that nobody changes; it is one, since its log is empty.
        return _connected_to_read(path, "immutable=1")


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


def as_ours(error: sqlite3.Error, path: Path) -> EnvironmentFault:
    """Our error for one of SQLite's about a file, by its result code."""
    code = "_".join(getattr(error, "sqlite_errorname", "").split("_")[:2])
    if code in _BUSY:
        return TrailBusy(
            f"Another program is writing to {path.name}; nothing was changed, try again"
        )
    if code in _FULL:
        return StorageFull(f"{path.name} cannot be written: {error}")
    if code in _DAMAGED:
        return NotATrail(f"Expected a trail file, got {path.name}: {error}")
    return EnvironmentFault(f"{path.name} could not be used: {error}")
