"""A backup put in the place of a trail; what was there is set aside, never lost."""

from __future__ import annotations

import sqlite3
import time
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path

from layers.errors import BadValue, EnvironmentFault, NotATrail, TrailBusy
from layers.trail.connection import connect, connect_to_read, log_path, translated
from layers.trail.migrations.upgrade import readable
from layers.trail.whole_files import (
    copy_whole,
    free_name,
    passing_folder,
    put_in_place,
    sync,
    verdict_of,
)

_PAGES_A_STEP = 16
"""Fewer than any trail has, so that the first step is not the last: what is there is copied
aside after the first one, under the lock that it takes."""

_VERSIONS_AHEAD = 1000
"""By how much the restored trail's version is ahead of the one it replaces: whoever has read
the trail before then reads all of it anew, also after saves that come between."""


@dataclass(frozen=True)
class Restored:
    """What a restore did: where the trail that was there is now, None if there was none."""

    aside: Path | None
    was_damaged: bool
    visits: int


def restore(backup: Path, target: Path, *, busy_s: float = 10.0) -> Restored:
    """Make `target` hold what `backup` holds; programs that have it open see it at once.

    A sound trail is overwritten in one transaction, after a copy of it was made while no program
    can write; a damaged one is moved aside with its side files.

    Parameters
    ----------
    busy_s
        How long to wait for another program's write to end.

    Raises
    ------
    BadValue
        Both are the same file.
    NotATrail
        The backup is damaged, no trail, or of a newer format.
    TrailBusy
        Another program writes to the trail.
    StorageFull
        There is no room. In each case the trail is as it was.
    """
    if target.exists() and backup.exists() and backup.samefile(target):
        raise BadValue("a backup and another file to restore", "one file for both")
    with passing_folder(target.absolute().parent) as folder:
        fresh = folder / target.name
        with readable(backup) as source:
            verdict = verdict_of(source)
            if verdict != "ok":
                raise NotATrail(f"The backup {backup.name} is damaged, use another: {verdict}")
            with closing(connect_to_read(source)) as reader:
                copy_whole(reader, fresh)
        if not target.exists():
            aside, damaged = _move_aside(target), False
            put_in_place(fresh, target)
        elif verdict_of(target) == "ok":
            aside, damaged = _overwrite(fresh, target, busy_s=busy_s), False
        else:
            aside, damaged = _move_aside(target), True
            put_in_place(fresh, target)
    with translated(target), closing(connect(target, busy_s=busy_s)) as connection:
        (visits,) = connection.execute("SELECT count(*) FROM visits").fetchone()
    return Restored(aside, damaged, visits)


def _version(connection: sqlite3.Connection) -> int:
    try:
        (number,) = connection.execute("SELECT version FROM trail").fetchone()
        return int(number)
    except (sqlite3.Error, TypeError, ValueError):
        # Some other database, which no reader of ours follows.
        return 0


def _overwrite(fresh: Path, target: Path, *, busy_s: float) -> Path:
    """Copy one file's pages over those of another, which is copied aside first; where it is."""
    aside = free_name(target, "before-restore")
    begun = time.monotonic()
    with (
        translated(target),
        closing(connect(target, busy_s=busy_s)) as writer,
        closing(connect_to_read(target)) as reader,
        closing(connect(fresh, busy_s=busy_s)) as source,
    ):
        version = max(_version(reader), _version(source)) + _VERSIONS_AHEAD
        source.execute("PRAGMA journal_mode = DELETE")
        source.execute(
            "INSERT INTO boxround_changes (version, changed) VALUES (?, 'trail')", (version,)
        )
        source.execute("UPDATE trail SET version = ?", (version,))

        def set_aside(status: int, _left: int, _pages: int) -> None:
            # Called between steps; from the first one that succeeds no other program can write.
            if status not in (sqlite3.SQLITE_OK, sqlite3.SQLITE_DONE):
                if time.monotonic() - begun > busy_s:
                    raise TrailBusy(
                        f"Another program is writing to {target.name}; nothing was changed."
                        " End its edit, then restore again"
                    )
            elif status == sqlite3.SQLITE_OK and not aside.exists():
                if _version(reader) >= version:
                    raise TrailBusy(f"{target.name} changed meanwhile; nothing was restored")
                copy_whole(reader, aside)

        source.backup(writer, pages=_PAGES_A_STEP, progress=set_aside, sleep=0.05)
        writer.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    return aside


def _move_aside(target: Path) -> Path | None:
    """Rename a file and what SQLite keeps beside it; the new name, None if there was nothing.

    The log goes first: beside a file that it does not belong to it would damage that file.
    """
    aside = free_name(target, "before-restore")
    moved = None
    try:
        for ending in ("-wal", "-shm", "-journal", ""):
            with suppress(FileNotFoundError):
                Path(f"{target}{ending}").rename(f"{aside}{ending}")
                moved = aside
        sync(target.absolute().parent)
    except OSError as error:
        raise EnvironmentFault(
            f"{target.name} could not be set aside: {error.strerror}. Another program may have"
            " it open: close it, then restore again"
        ) from error
    return moved


def foreign_log(path: Path) -> str | None:
    """What is wrong where a file is whole but for a log of another file beside it; else None."""
    if not log_path(path).exists() or verdict_of(path) == "ok":
        return None
    try:
        name = f"{path.absolute().as_uri()}?mode=ro&immutable=1"
        with closing(sqlite3.connect(name, uri=True)) as alone:
            verdict = alone.execute("PRAGMA integrity_check(1)").fetchone()[0]
    except (sqlite3.Error, UnicodeDecodeError):
        return None
    if verdict != "ok":
        return None
    return (
        f"{log_path(path).name} beside it belongs to another file; {path.name} alone is whole."
        f" Stop what has it open, then move {log_path(path).name} away"
    )
