"""An archive: put a trail in, take it back, join small files, and see that all is whole.

Every change writes new files first, each whole under its name, then the manifest, then removes
what no longer counts. What a killed writer left is removed by the next change.
"""

from __future__ import annotations

import hashlib
import shutil
import sqlite3
from collections import defaultdict
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path

from layers.errors import BoxroundError, NotKnown, StorageFull, TrailBusy
from layers.pooling.codes import recoded
from layers.pooling.columns import TABLES, dictionary_csv
from layers.pooling.manifest import (
    NAME,
    FileEntry,
    Logged,
    Manifest,
    TrailEntry,
    read_manifest,
    write_manifest,
)
from layers.pooling.parquet import (
    checked,
    joined,
    of_trails,
    read_part,
    sha256_of,
    to_bytes,
    write_new,
)
from layers.pooling.tables import Key, Part

GROUP_TRAILS = 40
"""Trails of a group. Of 400 trails, files of their own were 52 % larger than groups of 100, and
three columns took 2.06 s to read instead of 0.10 s. A season over an archive reads a group at a
time: 100 trails needed 960 MB, 40 need 600 MB."""

RESULTS = ".season"
"""The folder of results that a season over the archive may use again."""

_LOCK = ".lock"
_WAIT_S = 10.0


class Archive:
    """A folder of Parquet files and its manifest. `program` is the version that writes."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.program = version("boxround")

    def manifest(self) -> Manifest:
        """What counts now; `NotATrail` where the folder is no archive, or is damaged."""
        return read_manifest(self.path)

    @contextmanager
    def _changing(self) -> Iterator[Manifest]:
        """The manifest, with no other writer until the block ends; made where there is none.

        Raises
        ------
        StorageFull
            The folder cannot be written, or holds something else.
        TrailBusy
            Another program is changing the archive.
        """
        try:
            self.path.mkdir(parents=True, exist_ok=True)
            if not (self.path / NAME).exists():
                _expect_empty(self.path)
        except OSError as error:
            raise StorageFull(f"{self.path} cannot be written: {error.strerror}") from error
        with _locked(self.path):
            if not (self.path / NAME).exists():
                write_manifest(self.path, Manifest())
            manifest = self.manifest()
            self._clear(manifest)
            for name, text in (("dictionary.csv", dictionary_csv()), ("README.txt", _ABOUT)):
                target = self.path / name
                if not target.exists() or target.read_text(encoding="utf-8") != text:
                    write_new(target, text.encode())
            yield manifest

    def put(
        self, entry: TrailEntry, parts: Mapping[Key, Part], names: frozenset[str] = frozenset()
    ) -> int:
        """Put a trail in, or in the place of what the archive holds of it; partitions written.

        Partitions that are as they were are left as they are. `names` has what the trail is called
        in other releases: what was let go under these is removed.
        """
        with self._changing() as before:
            manifest = before
            for other in sorted(names & before.trails.keys() - {entry.trail}):
                manifest = self._left_by(manifest, other)
            known = manifest.trails.get(entry.trail)
            entry = replace(entry, group=known.group if known else None)
            content = {key: to_bytes(part) for key, part in parts.items()}
            digests = {key: sha256_of(given) for key, given in content.items()}
            files, changed = self._without(manifest, entry.trail, kept=set(digests.items()))
            there = {one.key for one in files if entry.trail in one.trails}
            for key, given in content.items():
                if key not in there:
                    trails = {entry.trail: digests[key]}
                    files.append(self._write(key, given, len(parts[key]), trails, entry.trail))
                    changed += 1
            trails_after = {**manifest.trails, entry.trail: entry}
            self._commit(manifest, trails_after, files, "pooled", entry.trail)
            return changed

    def take_back(self, trail: str) -> int:
        """Remove every row of a trail; how many files held some.

        Raises
        ------
        NotKnown
            The archive does not hold the trail.
        """
        with self._changing() as manifest:
            if trail not in manifest.trails:
                raise NotKnown(f"Expected a trail of {self.path}, got {trail}, which is not in it")
            after = self._left_by(manifest, trail)
            proof = hashlib.sha256(trail.encode()).hexdigest()
            self._commit(after, after.trails, [*after.files], "taken back", proof)
            # Results are computed from its rows.
            shutil.rmtree(self.path / RESULTS, ignore_errors=True)
            return sum(trail in one.trails for one in manifest.files)

    def compact(self, *, group_trails: int = GROUP_TRAILS) -> int:
        """Join the files of each season into groups of trails; how many files were joined."""
        with self._changing() as manifest:
            trails = _grouped(manifest.trails, group_trails)
            by_place: dict[tuple[Key, str], list[FileEntry]] = defaultdict(list)
            for one in manifest.files:
                group = trails[next(iter(one.trails))].group
                assert group is not None
                by_place[one.key, group].append(one)
            files, joined_files = [], 0
            for (key, group), own in sorted(by_place.items(), key=str):
                if len(own) == 1 and Path(own[0].file).name.startswith(group):
                    files.append(own[0])
                    continue
                joined_files += len(own)
                held = [read_part(self.path, one) for one in own]
                if key[0] == "visits":
                    held = [recoded(one) for one in held]
                part = joined(held)
                digests = {name: digest for one in own for name, digest in one.trails.items()}
                files.append(self._write(key, to_bytes(part), len(part), digests, group))
            if joined_files:
                self._commit(manifest, trails, files, "compacted", "")
            return joined_files

    def faults(self) -> Iterator[str]:
        """A sentence for each file that is missing, or not as it was written."""
        for entry in self.manifest().files:
            try:
                checked(self.path, entry)
            except BoxroundError as error:
                yield str(error)

    def _left_by(self, manifest: Manifest, trail: str) -> Manifest:
        """The manifest without a trail, its rows, and what the log has of it."""
        files, _ = self._without(manifest, trail, kept=set())
        trails = {name: one for name, one in manifest.trails.items() if name != trail}
        log = tuple(one for one in manifest.log if one.trail != trail)
        return replace(manifest, trails=trails, log=log).with_files(files)

    def _without(
        self, manifest: Manifest, trail: str, *, kept: set[tuple[Key, str]]
    ) -> tuple[list[FileEntry], int]:
        """The files without the rows of a trail, but for partitions whose digest is among `kept`;
        and how many partitions of it went.
        """
        files, changed = [], 0
        for one in manifest.files:
            if trail not in one.trails or (one.key, one.trails[trail]) in kept:
                files.append(one)
                continue
            changed += 1
            others = {name: digest for name, digest in one.trails.items() if name != trail}
            if others:
                part = of_trails(read_part(self.path, one), set(others))
                name = Path(one.file).name.rsplit("-", 1)[0]
                files.append(self._write(one.key, to_bytes(part), len(part), others, name))
        return files, changed

    def _write(
        self, key: Key, content: bytes, rows: int, trails: Mapping[str, str], name: str
    ) -> FileEntry:
        table, season = key
        digest = sha256_of(content)
        folder = table if season is None else f"{table}/season={season}"
        file = f"{folder}/{name}-{digest[:12]}.parquet"
        write_new(self.path / file, content)
        return FileEntry(file, table, season, rows, digest, dict(trails))

    def _commit(
        self,
        manifest: Manifest,
        trails: Mapping[str, TrailEntry],
        files: list[FileEntry],
        what: str,
        trail: str,
    ) -> None:
        done = Logged(datetime.now(UTC).isoformat(timespec="seconds"), what, trail, self.program)
        after = replace(manifest, trails=trails, log=(*manifest.log, done)).with_files(files)
        write_manifest(self.path, after)
        self._clear(after)

    def _clear(self, manifest: Manifest) -> None:
        """Remove files that do not count, and folders left empty."""
        counts = {self.path / one.file for one in manifest.files}
        for table in TABLES:
            for path in (self.path / table).rglob("*.parquet"):
                if path not in counts:
                    path.unlink(missing_ok=True)
            for folder in (self.path / table).glob("season=*"):
                if not any(folder.iterdir()):
                    folder.rmdir()


def _expect_empty(path: Path) -> None:
    found = [one.name for one in path.iterdir() if not one.name.startswith(".")]
    if found:
        raise StorageFull(
            f"{path} is no archive and is not empty (it holds {found[0]}): give a new folder"
        )


def _grouped(trails: Mapping[str, TrailEntry], group_trails: int) -> dict[str, TrailEntry]:
    """The trails with a group each: those without one fill the last group, then new ones."""
    members: dict[str, int] = defaultdict(int)
    for one in trails.values():
        if one.group is not None:
            members[one.group] += 1
    number = max((int(name.removeprefix("group")) for name in members), default=0)
    after = dict(trails)
    for name in sorted(name for name, one in trails.items() if one.group is None):
        group = f"group{number:05d}"
        if number == 0 or members[group] >= group_trails:
            number += 1
            group = f"group{number:05d}"
        members[group] += 1
        after[name] = replace(trails[name], group=group)
    return after


@contextmanager
def _locked(path: Path) -> Iterator[None]:
    """Hold the archive's lock, which a killed process lets go by itself."""
    try:
        with closing(sqlite3.connect(path / _LOCK, timeout=_WAIT_S, isolation_level=None)) as lock:
            lock.execute("BEGIN EXCLUSIVE")
            yield
    except sqlite3.OperationalError as error:
        if "locked" in str(error):
            raise TrailBusy(
                f"Another program is changing {path}; try again when it is done"
            ) from error
        raise StorageFull(f"{path} cannot be written: {error}") from error


_ABOUT = """An archive of nest box trails, written by Boxround.

visits, attempts and nests are folders of Parquet files, one folder a season; boxes and squares are
GeoParquet in EPSG:4326. dictionary.csv lists every column of every table. manifest.json lists the
files that count, each trail with its release, its licence and where its rows come from, and every
change. While boxround pool runs, files that no longer count may lie beside those that do.

Releases. full: all that the trail's file holds, with exact places, persons and nests in use.
coarse: finished nests and their visits, by the trail's public rules: no hidden box, no withheld
species, grid squares for places, no persons, no free text. nests over: the rows of the trail's
public pages alone. Only rows of the last may be shown to everybody.

A trail's season begins on the day in manifest.json; a season is named after the year it begins in.
Fates and dates are as known on the day of pooling.
"""
