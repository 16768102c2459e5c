"""Files that are whole under their name, or are not there: whatever kills the writer.

What is written goes into a passing folder beside its place first. What a killed writer left
there is removed by the next one.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
import tempfile
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from layers.errors import Conflict, StorageFull
from layers.trail.connection import connect_to_read, translated

PREFIX = ".boxround-"
"""Begins the name of every passing folder."""

OWNER_ONLY = 0o600
"""Mode of a new trail and of its copies: it holds exact places of nests, and names."""

LEFT_OVER_S = 3600.0
"""Age in seconds from which a passing folder counts as left over: no writer takes as long."""


@contextmanager
def passing_folder(beside: Path) -> Iterator[Path]:
    """A folder in `beside` that is gone when the block ends.

    Raises
    ------
    StorageFull
        It cannot be written there.
    """
    _clear_left_over(beside)
    try:
        with tempfile.TemporaryDirectory(prefix=PREFIX, dir=beside) as folder:
            yield Path(folder)
    except OSError as error:
        raise StorageFull(f"{beside} cannot be written: {error.strerror or error}") from error


def _clear_left_over(beside: Path) -> None:
    oldest = time.time() - LEFT_OVER_S
    for folder in beside.glob(f"{PREFIX}*"):
        if folder.is_dir() and folder.stat().st_mtime < oldest:
            shutil.rmtree(folder, ignore_errors=True)


def put_in_place(made: Path, target: Path) -> None:
    """Give a file its final name once all of it is on disk; never over another file.

    Raises
    ------
    Conflict
        There is a file of that name already.
    """
    sync(made)
    try:
        # Unlike renaming, this fails where another program has made the name meanwhile.
        os.link(made, target)
    except FileExistsError as error:
        raise taken(target) from error
    except OSError:
        # A memory card knows no second name of a file.
        if target.exists():
            raise taken(target) from None
        made.replace(target)
    sync(target.parent)


def expect_new(path: Path) -> None:
    """See that no file has a name; `Conflict` where one has."""
    if path.exists():
        raise taken(path)


def taken(path: Path) -> Conflict:
    """The error about a name that is in use."""
    return Conflict(f"Expected a new file name, got {path.name}, which exists")


def sync(path: Path) -> None:
    """Have a file, or the names in a folder, on disk when this returns."""
    try:
        handle = os.open(path, os.O_RDONLY)
    except PermissionError:
        # Windows opens no folder, and has no need to.
        return
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def free_name(path: Path, mark: str) -> Path:
    """A new name beside a file: `trail.MARK.gpkg`, then `trail.MARK-2.gpkg`, and so on."""
    numbers = ("", *(f"-{number}" for number in range(2, 100_000)))
    names = (path.with_name(f"{path.stem}.{mark}{number}{path.suffix}") for number in numbers)
    return next(name for name in names if not name.exists())


def copy_whole(reader: sqlite3.Connection, target: Path) -> None:
    """Write what a connection reads as a new file, checked before it gets its name.

    Raises
    ------
    Conflict
        There is a file of that name already.
    StorageFull, NotATrail
        It cannot be written there, or what is read is damaged; nothing is left of the copy.
    """
    expect_new(target)
    with passing_folder(target.parent) as folder:
        part = folder / target.name
        with translated(target):
            part.touch(mode=OWNER_ONLY)
            reader.execute("VACUUM INTO ?", (str(part),))
        verdict = verdict_of(part)
        if verdict != "ok":
            raise StorageFull(f"The copy {target.name} was not written whole: {verdict}")
        put_in_place(part, target)


def verdict_of(path: Path) -> str:
    """SQLite's verdict on a whole file: `ok`, or the first thing that is wrong."""
    try:
        with closing(connect_to_read(path)) as reader:
            return str(reader.execute("PRAGMA integrity_check(1)").fetchone()[0])
    except (sqlite3.Error, UnicodeDecodeError) as error:
        return str(error)
