"""A folder of trails: the names that they have on a server and on the command line."""

from __future__ import annotations

import re
from pathlib import Path

PREFIX = "/t/"
"""What the address of each trail begins with."""

ENDING = ".gpkg"

TRAIL_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]*")
"""File names, without their ending, that can be part of an address as they are."""


def file_state(*paths: Path) -> tuple[tuple[int, ...], ...]:
    """Changes when one of these databases or its write-ahead log does."""
    logs = (path.with_name(f"{path.name}-wal") for path in paths)
    return tuple(map(_stamp, (*paths, *logs)))


def _stamp(path: Path) -> tuple[int, ...]:
    try:
        state = path.stat()
    except OSError:
        return ()
    return state.st_ino, state.st_size, state.st_mtime_ns


def trails_in(folder: Path) -> tuple[list[str], list[str]]:
    """Names of the trails of a folder, and the names of files that cannot be part of an address."""
    stems = sorted(path.name.removesuffix(ENDING) for path in folder.glob(f"*{ENDING}"))
    good = [stem for stem in stems if TRAIL_NAME.fullmatch(stem)]
    return good, [f"{stem}{ENDING}" for stem in stems if stem not in good]
