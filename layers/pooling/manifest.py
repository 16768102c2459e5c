"""The manifest of an archive: which files count, what trails they hold, and what was done.

Files are never changed: a change writes new ones and then a new manifest, in one step. So a reader
that goes by the manifest sees the old archive or the new one, whatever kills the writer.
"""

from __future__ import annotations

import json
import os
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

from layers.errors import NotATrail
from layers.pooling.tables import Key
from layers.trail.whole_files import sync

NAME = "manifest.json"
FORMAT = "boxround archive 1"


@dataclass(frozen=True)
class TrailEntry:
    """A trail in the archive.

    Attributes
    ----------
    release
        One of `choices.RELEASES`.
    name, region
        As its release shows them: for other releases than full, those of the public pages.
    season_starts, guide
        What its visits are read with; `guide` is the trail's own figures as TOML, or None.
    file_name, file_sha256, file_version
        The trail's file, as it was when it was pooled; only a full release has its name and
        version, which rises with visits that are not released.
    program
        Version of Boxround that wrote the rows.
    pooled_at
        Moment in UTC; `as_known_on` is the day whose knowledge dates and fates rest on.
    group
        The group of trails whose files it is joined with; None = none yet.
    """

    trail: str
    release: str
    name: str
    region: str | None
    season_starts: str
    guide: str | None
    licence: str | None
    file_name: str
    file_sha256: str
    file_version: int | None
    program: str
    pooled_at: str
    as_known_on: str
    group: str | None = None


@dataclass(frozen=True)
class FileEntry:
    """One file that counts. `trails` has the SHA-256 of each trail's own rows in it."""

    file: str
    table: str
    season: int | None
    rows: int
    sha256: str
    trails: Mapping[str, str]

    @property
    def key(self) -> Key:
        return self.table, self.season


@dataclass(frozen=True)
class Logged:
    """One change: what was done, when, by which version, and to which trail.

    Of a trail that was taken back, the SHA-256 of its identifier alone is left.
    """

    at: str
    what: str
    trail: str
    program: str


@dataclass(frozen=True)
class Manifest:
    """All that counts in an archive."""

    trails: Mapping[str, TrailEntry] = field(default_factory=dict)
    files: tuple[FileEntry, ...] = ()
    log: tuple[Logged, ...] = ()

    def of_table(self, table: str) -> tuple[FileEntry, ...]:
        """The files of a table, in order of their names."""
        return tuple(one for one in self.files if one.table == table)

    def with_files(self, files: Sequence[FileEntry]) -> Manifest:
        return replace(self, files=tuple(sorted(files, key=lambda one: one.file)))

    def to_text(self) -> str:
        held = {
            "format": FORMAT,
            "trails": {name: asdict(self.trails[name]) for name in sorted(self.trails)},
            "files": [asdict(one) for one in self.files],
            "log": [asdict(one) for one in self.log],
        }
        return json.dumps(held, ensure_ascii=False, indent=1)


def read_manifest(archive: Path) -> Manifest:
    """The manifest of a folder.

    Raises
    ------
    NotATrail
        The folder is no archive, or its manifest is damaged or of a newer format.
    """
    path = archive / NAME
    try:
        held = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError) as error:
        raise NotATrail(
            f"Expected an archive, got {archive}, whose {NAME} cannot be read ({error})."
            " Give the folder that boxround pool wrote."
        ) from error
    except ValueError as error:
        raise damaged(path, str(error)) from error
    try:
        if held["format"] != FORMAT:
            raise NotATrail(
                f"Expected an archive of format {FORMAT!r}, got {held['format']!r} in {path}:"
                " use the version of Boxround that wrote it"
            )
        trails = {name: TrailEntry(**entry) for name, entry in held["trails"].items()}
        files = tuple(FileEntry(**entry) for entry in held["files"])
        for one in files:
            _expect_inside(path, one.file)
        return Manifest(trails, files, tuple(Logged(**entry) for entry in held["log"]))
    except (KeyError, TypeError, AttributeError) as error:
        raise damaged(path, f"{type(error).__name__}: {error}") from error


def _expect_inside(path: Path, file: Any) -> None:
    parts = Path(file).parts
    if Path(file).is_absolute() or ".." in parts:
        raise damaged(path, f"it names a file outside the archive: {file}")


def damaged(path: Path, why: str) -> NotATrail:
    """The error about a file of an archive that cannot be read."""
    return NotATrail(
        f"{path} is damaged ({why}). Pool its trails again, or take the folder from a backup."
    )


def write_manifest(archive: Path, manifest: Manifest) -> None:
    """Make a manifest the one that counts; on disk when this returns."""
    part = archive / f".{NAME}.part"
    with part.open("w", encoding="utf-8") as file:
        file.write(manifest.to_text())
        file.flush()
        os.fsync(file.fileno())
    part.replace(archive / NAME)
    sync(archive)
