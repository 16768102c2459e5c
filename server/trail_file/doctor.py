"""Whether a trail's file is in good health and in a good place: what `boxround doctor` reports.

Looks at the file and what is around it; `check` looks at the boxes and visits in it. Changes
nothing, so it can be run on a damaged file and beside a server.
"""

from __future__ import annotations

import shutil
import sqlite3
import stat
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime, timedelta
from importlib.metadata import version
from pathlib import Path
from typing import Literal

from layers.errors import BoxroundError, NotKnown
from layers.trail.background import background_of, background_path
from layers.trail.backups import backups_of
from layers.trail.checking import PEOPLE_ENDING
from layers.trail.connection import connect_to_read, expect_file, log_bytes, log_path
from layers.trail.migrations import TODAY, format_number
from layers.trail.restoring import foreign_log
from layers.trail.whole_files import verdict_of
from server.web.authentication.store import People

State = Literal["good", "look", "fault"]

BACKUP_AGE = timedelta(days=7)
"""A season's visits come weekly: an older backup misses a round of all boxes."""

FREE_COPIES = 5
"""Room that should be free beside a trail, as a multiple of its size: an upgrade and a restore
each set a copy aside."""

SYNCED = (
    "dropbox", "onedrive", "google drive", "googledrive", "icloud", "mobile documents",
    "nextcloud", "owncloud", "syncthing",
)  # fmt: skip
"""Words in the names of folders that a program copies to other machines."""

NETWORK = ("nfs", "nfs4", "cifs", "smb3", "smbfs", "sshfs", "fuse.sshfs", "9p", "afs", "davfs")
"""Kinds of file systems of other machines, as Linux names them; SQLite's locks fail on many."""


@dataclass(frozen=True)
class Checkup:
    """One thing looked at: `good`, something to `look` at, or a `fault` to mend."""

    state: State
    subject: str
    what: str


def examine(path: Path, *, now: datetime, backups: Path | None) -> list[Checkup]:
    """Everything looked at, in the order of a first reading.

    Parameters
    ----------
    backups
        The folder of the backups; None = the trail's own folder, and `backups` in it.

    Raises
    ------
    NotATrail
        There is no such file.
    """
    expect_file(path)
    checkups = [Checkup("good", "program", f"Boxround {version('boxround')}")]
    for part in (
        _file(path),
        _room(path),
        _place(path),
        _backups(path, backups, now),
        _modes(path),
        _access(path, now),
        _background(path),
    ):
        checkups += part
    return checkups


def _file(path: Path) -> Iterator[Checkup]:
    foreign = foreign_log(path)
    if foreign is not None:
        yield Checkup("fault", "side files", foreign)
        return
    left = log_bytes(path)
    if left:
        yield Checkup(
            "look",
            "side files",
            f"{log_path(path).name} holds {left / 1000:.0f} kB that a program is still writing, or"
            f" that a killed one left: keep it beside {path.name} when you copy or move that file;"
            " the next boxround command folds it in",
        )
    verdict = verdict_of(path)
    if verdict != "ok":
        yield Checkup(
            "fault",
            "file",
            f"damaged: {verdict}. Keep it as it is; put your newest backup in its place:"
            f" boxround restore BACKUP {path.name}",
        )
        return
    yield Checkup("good", "file", "whole")
    try:
        with closing(connect_to_read(path)) as reader:
            (text,) = reader.execute("SELECT format FROM trail").fetchone()
            (zone,) = reader.execute("SELECT timezone FROM trail").fetchone()
        number = format_number(text)
    except (sqlite3.Error, TypeError, UnicodeDecodeError, BoxroundError):
        yield Checkup("fault", "format", "this is no trail file of Boxround")
        return
    if number > TODAY:
        what = f"format {number}, of a newer Boxround than this: install the newer one"
        yield Checkup("fault", "format", what)
    elif number < TODAY:
        what = f"format {number}; brought to format {TODAY} when it is opened, after a backup"
        yield Checkup("look", "format", what)
    else:
        yield Checkup("good", "format", f"format {number}, the newest")
    yield Checkup("good", "time zone", f"{zone}; change it with boxround settings --timezone")


def _room(path: Path) -> Iterator[Checkup]:
    size, free = path.stat().st_size, shutil.disk_usage(path.absolute().parent).free
    what = f"{size / 1e6:.1f} MB; {free / 1e9:.1f} GB are free on its disk"
    if free < FREE_COPIES * size:
        yield Checkup("look", "size", f"{what}: make room, backups and upgrades need some")
    else:
        yield Checkup("good", "size", what)


def _place(path: Path) -> Iterator[Checkup]:
    whole = path.resolve()
    synced = [part for part in whole.parts if any(word in part.lower() for word in SYNCED)]
    kind = _file_system(whole)
    if synced:
        what = (
            f"the folder {synced[0]} looks like one that is copied to other machines, which can"
            " mix two states of the file: keep the trail elsewhere, and its backups there"
        )
        yield Checkup("look", "place", what)
    elif kind in NETWORK:
        what = f"on another machine ({kind}), where locks may fail: keep it on a disk of this one"
        yield Checkup("look", "place", what)
    else:
        yield Checkup("good", "place", f"{whole.parent}, a folder of this machine")


def _file_system(path: Path) -> str:
    """The kind of file system that a file is on; empty where the system does not say."""
    try:
        lines = Path("/proc/mounts").read_text(encoding="utf-8").splitlines()
    except OSError:
        return ""
    mounted = [line.split()[1:3] for line in lines if len(line.split()) > 2]
    above = [(len(at), kind) for at, kind in mounted if path.is_relative_to(at)]
    return max(above, default=(0, ""))[1]


def _backups(path: Path, folder: Path | None, now: datetime) -> Iterator[Checkup]:
    folders = [path.absolute().parent, path.absolute().parent / "backups"]
    if folder is not None:
        folders = [folder]
    moments = [moment for one in folders for moment in backups_of(one, path.stem).values()]
    advice = f"boxround backup {path.name} FOLDER --keep 30, on another disk, every night"
    if not moments:
        where = " and ".join(str(one) for one in folders)
        what = f"no dated backup in {where}: {advice}; or say where they are: --backups FOLDER"
        yield Checkup("look", "backup", what)
        return
    age = now - max(moments)
    what = f"the newest is of {max(moments):%Y-%m-%d %H:%M} UTC"
    if age > BACKUP_AGE:
        yield Checkup("look", "backup", f"{what}, {age.days} days old: {advice}")
    else:
        yield Checkup("good", "backup", what)
    if age < -timedelta(hours=1):
        what = "a backup is dated later than now: set this machine's clock"
        yield Checkup("fault", "clock", what)
    else:
        yield Checkup("good", "clock", f"{now:%Y-%m-%d %H:%M} UTC")


def _modes(path: Path) -> Iterator[Checkup]:
    open_to_others = [
        one.name
        for one in (path, path.with_name(path.name + PEOPLE_ENDING))
        if one.exists() and stat.S_IMODE(one.stat().st_mode) & (stat.S_IRWXG | stat.S_IRWXO)
    ]
    if open_to_others:
        names = " ".join(open_to_others)
        what = f"others on this machine can read it: chmod 600 {names}"
        yield Checkup("look", "permissions", what)
    else:
        yield Checkup("good", "permissions", "for its owner alone")


def _access(path: Path, now: datetime) -> Iterator[Checkup]:
    try:
        with People.open(path) as people:
            able = [
                one for one in people.everyone() if one.standing(now) not in ("revoked", "expired")
            ]
    except NotKnown:
        what = (
            "no one is invited: pages open on this machine alone. For phones: boxround setup server"
        )
        yield Checkup("good", "access", what)
        return
    except BoxroundError as error:
        yield Checkup("fault", "access", f"{error}: restore it from a backup")
        return
    keepers = sum(one.person.role == "keeper" for one in able)
    what = f"{len(able)} people, {keepers} of them keepers: boxround people {path.name}"
    if keepers:
        yield Checkup("good", "access", what)
    else:
        yield Checkup("look", "access", f"{what}; none can invite: boxround invite --role keeper")


def _background(path: Path) -> Iterator[Checkup]:
    file = background_path(path)
    if not file.exists():
        return
    known, verdict = background_of(path), verdict_of(file)
    if known is None or verdict != "ok":
        what = (
            f"{file.name} cannot be read, so maps show no pictures of the ground: add it again with"
            f" boxround add background, or boxround remove background {path.name}"
        )
        yield Checkup("fault", "background", what)
        return
    what = (
        f"{file.stat().st_size / 1e6:.1f} MB by {known.attribution}; no backup holds it: keep the"
        f" file it was made from, and move {file.name} together with the trail"
    )
    yield Checkup("good", "background", what)
