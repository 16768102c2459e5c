"""Which reader a file is for: by its suffix, and by what it is to hold."""

from __future__ import annotations

import os
from contextlib import AbstractContextManager
from pathlib import Path

from layers.trail.importing import archive, book, sheet, text, vector
from layers.trail.importing.columns import Kind
from layers.trail.importing.source import Progress, Table, refused


def suffixes(kind: Kind) -> tuple[str, ...]:
    """Suffixes of the files that may hold things of a kind."""
    plain = (*text.SUFFIXES, *sheet.SUFFIXES, *book.SUFFIXES)
    return (*plain, ".gpkg", ".zip") if kind == "visits" else (*plain, *vector.DRIVERS)


def open_table(path: Path, *, kind: Kind, progress: Progress) -> AbstractContextManager[Table]:
    """The rows of a file while the block lasts.

    Raises
    ------
    Refused
        There is no such file, it is empty, or it is of a format that does not hold `kind`.
    """
    suffix = path.suffix.lower()
    if not path.is_file():
        raise refused(path.name, "a file", f"no file {path}")
    if suffix not in suffixes(kind):
        came = f"a file {suffix}" if suffix else "a file without a suffix"
        raise refused(path.name, f"a file of {kind}: {', '.join(suffixes(kind))}", came)
    if path.stat().st_size == 0:
        raise refused(path.name, "a header and rows below it", "an empty file")
    # Not tried by opening it: a plain open of a live trail file in the process that
    # serves it would drop that process's locks on it.
    if not os.access(path, os.R_OK):
        raise refused(path.name, "a file that may be read", "one closed to this user")
    if suffix in text.SUFFIXES:
        return text.open_text(path, progress=progress)
    if suffix in sheet.SUFFIXES:
        return sheet.open_sheet(path, kind=kind, progress=progress)
    if suffix in book.SUFFIXES:
        return book.open_book(path, kind=kind, progress=progress)
    if suffix == ".zip" and (kind == "visits" or archive.is_archive(path)):
        return archive.open_archive(path, kind=kind, progress=progress)
    return vector.open_vector(path, kind=kind, progress=progress)
