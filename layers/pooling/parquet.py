"""Tables as Parquet in memory and in files."""

from __future__ import annotations

import hashlib
import io
from pathlib import Path

import pyarrow as pa
from pyarrow import compute, parquet

from layers.errors import StorageFull
from layers.pooling.geometry import geometry_anew
from layers.pooling.manifest import FileEntry, damaged
from layers.pooling.tables import Part
from layers.trail.whole_files import passing_folder, sync


def to_bytes(part: Part) -> bytes:
    """A table as Parquet; the same rows give the same bytes."""
    held = io.BytesIO()
    parquet.write_table(part, held, compression="zstd")
    return held.getvalue()


def sha256_of(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def read_part(archive: Path, entry: FileEntry, columns: list[str] | None = None) -> Part:
    """The table in a file of the archive; some of its columns where they are named.

    Raises
    ------
    NotATrail
        The file is missing or damaged.
    """
    path = archive / entry.file
    try:
        # No partitioning: the folder's season is not a column of the file.
        read: Part = parquet.read_table(path, columns=columns, partitioning=None)
    except (OSError, ValueError, KeyError, pa.ArrowException) as error:
        why = (str(error).splitlines() or [type(error).__name__])[0]
        raise damaged(path, why) from error
    if len(read) != entry.rows:
        raise damaged(path, f"expected {entry.rows} rows, got {len(read)}")
    return read


def of_trails(part: Part, trails: set[str]) -> Part:
    """The rows of some trails, and no word of the others."""
    kept = compute.is_in(part.column("trail").cast(pa.string()), pa.array(sorted(trails)))
    rows = part.filter(kept)
    # A dictionary would hold the words of the rows that went.
    columns = [
        compute.dictionary_encode(column.cast(column.type.value_type).combine_chunks())
        if pa.types.is_dictionary(column.type)
        else column
        for column in rows.columns
    ]
    return geometry_anew(pa.Table.from_arrays(columns, schema=rows.schema))


def joined(parts: list[Part]) -> Part:
    """Tables below each other."""
    return geometry_anew(pa.concat_tables(parts).unify_dictionaries().combine_chunks())


def write_new(path: Path, content: bytes) -> None:
    """Write a file under a new name: whole, and on disk when this returns.

    Raises
    ------
    StorageFull
        It cannot be written.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with passing_folder(path.parent) as folder:
            part = folder / path.name
            part.write_bytes(content)
            sync(part)
            part.replace(path)
        sync(path.parent)
    except OSError as error:
        raise StorageFull(f"{path} cannot be written: {error.strerror or error}") from error


def checked(archive: Path, entry: FileEntry) -> None:
    """Raise `NotATrail` where a file is not as it was written."""
    path = archive / entry.file
    try:
        content = path.read_bytes()
    except OSError as error:
        raise damaged(path, error.strerror or str(error)) from error
    if sha256_of(content) != entry.sha256:
        raise damaged(path, "its content is not what was written")
