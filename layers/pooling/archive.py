"""An archive: put a trail in, take it back, join small files, and see that all is whole.

Every change writes new files first, each whole under its name, then the manifest, then removes
what no longer counts. What a killed writer left is removed by the next change.
"""

from __future__ import annotations

import hashlib
import shutil
import sqlite3
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence, Set
from contextlib import closing, contextmanager
from dataclasses import dataclass, replace
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


@dataclass(frozen=True)
class Pooled:
    """A trail's entry in the manifest, its partitions, and all that an archive may call it.

    `names` has what the trail is called in other releases: what was let go under these is removed
    when it is put in.
    """

    entry: TrailEntry
    parts: Mapping[Key, Part]
    names: frozenset[str] = frozenset()


class Archive:
    """A folder of Parquet files and its manifest.

    Parameters
    ----------
    group_trails
        How many trails share the files of a season.
    """

    def __init__(self, path: Path, *, group_trails: int = GROUP_TRAILS) -> None:
        self.path = path
        self.group_trails = group_trails
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

    def put(self, pooled: Sequence[Pooled]) -> list[int]:
        """Put trails in, or in the place of what the archive holds of them, in one change; how many
        partitions of each were written.

        Partitions that are as they were are left as they are.
        """
        latest = {one.entry.trail: one for one in pooled}
        content = {
            trail: {key: to_bytes(part) for key, part in one.parts.items()}
            for trail, one in latest.items()
        }
        digests = {
            trail: {key: sha256_of(text) for key, text in own.items()}
            for trail, own in content.items()
        }
        with self._changing() as before:
            other_names = frozenset().union(*(one.names for one in pooled)) - latest.keys()
            manifest = self._without_trails(before, other_names & before.trails.keys())
            trails = _grouped(manifest.trails, latest, self.group_trails)
            kept = {trail: set(own.items()) for trail, own in digests.items()}
            files, changed = self._without(manifest.files, kept)
            there = {(one.key, trail) for one in files for trail in one.trails}
            fresh: dict[tuple[Key, str], list[str]] = defaultdict(list)
            for trail, one in latest.items():
                for key in one.parts.keys() - {key for key, name in there if name == trail}:
                    fresh[key, _group_of(trails[trail])].append(trail)
                    changed[trail] += 1
            for (key, group), own in fresh.items():
                parts = [latest[trail].parts[key] for trail in own]
                text = content[own[0]][key] if len(own) == 1 else to_bytes(joined(parts))
                of = {trail: digests[trail][key] for trail in own}
                files.append(self._write(key, text, sum(map(len, parts)), of, group))
            self._commit(manifest, trails, files, "pooled", list(latest))
            return [changed[one.entry.trail] for one in pooled]

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
            after = self._without_trails(manifest, {trail})
            proof = hashlib.sha256(trail.encode()).hexdigest()
            self._commit(after, after.trails, [*after.files], "taken back", [proof])
            # Results are computed from its rows.
            shutil.rmtree(self.path / RESULTS, ignore_errors=True)
            return sum(trail in one.trails for one in manifest.files)

    def compact(self) -> int:
        """Join the files of each season and group of trails; how many files were joined."""
        with self._changing() as manifest:
            by_place: dict[tuple[Key, str], list[FileEntry]] = defaultdict(list)
            for one in manifest.files:
                group = _group_of(manifest.trails[next(iter(one.trails))])
                by_place[one.key, group].append(one)
            files, joined_files = [], 0
            for (key, group), own in sorted(by_place.items(), key=str):
                if len(own) == 1:
                    files += own
                    continue
                joined_files += len(own)
                held = [read_part(self.path, one) for one in own]
                if key[0] == "visits":
                    held = [recoded(one) for one in held]
                part = joined(held)
                digests = {name: digest for one in own for name, digest in one.trails.items()}
                files.append(self._write(key, to_bytes(part), len(part), digests, group))
            if joined_files:
                self._commit(manifest, manifest.trails, files, "compacted", [])
            return joined_files

    def faults(self) -> Iterator[str]:
        """A sentence for each file that is missing, or not as it was written."""
        for entry in self.manifest().files:
            try:
                checked(self.path, entry)
            except BoxroundError as error:
                yield str(error)

    def _without_trails(self, manifest: Manifest, gone: Set[str]) -> Manifest:
        """The manifest without some trails, their rows, and what the log has of them."""
        if not gone:
            return manifest
        files, _ = self._without(manifest.files, {trail: set() for trail in gone})
        trails = {name: one for name, one in manifest.trails.items() if name not in gone}
        log = tuple(one for one in manifest.log if one.trail not in gone)
        return replace(manifest, trails=trails, log=log).with_files(files)

    def _without(
        self, files: Sequence[FileEntry], kept: Mapping[str, Set[tuple[Key, str]]]
    ) -> tuple[list[FileEntry], Counter[str]]:
        """The files without the rows of some trails, but for partitions of theirs whose digest is
        among those `kept` of them; and how many partitions of each went.
        """
        left: list[FileEntry] = []
        changed: Counter[str] = Counter()
        for one in files:
            gone = {
                trail
                for trail, digest in one.trails.items()
                if trail in kept and (one.key, digest) not in kept[trail]
            }
            changed.update(gone)
            others = {name: digest for name, digest in one.trails.items() if name not in gone}
            if not gone:
                left.append(one)
            elif others:
                part = of_trails(read_part(self.path, one), set(others))
                name = Path(one.file).name.rsplit("-", 1)[0]
                left.append(self._write(one.key, to_bytes(part), len(part), others, name))
        return left, changed

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
        of: Sequence[str],
    ) -> None:
        """Make it count: `of` has the trails for the log."""
        now = datetime.now(UTC).isoformat(timespec="seconds")
        done = [Logged(now, what, trail, self.program) for trail in of or [""]]
        after = replace(manifest, trails=trails, log=(*manifest.log, *done)).with_files(files)
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


def _grouped(
    known: Mapping[str, TrailEntry], pooled: Mapping[str, Pooled], group_trails: int
) -> dict[str, TrailEntry]:
    """The entries after some trails were pooled: new ones fill the last group, then another."""
    after = dict(known)
    members = Counter(_group_of(one) for one in known.values())
    number = max((int(name.removeprefix("group")) for name in members), default=1)
    for trail, one in pooled.items():
        if trail in known:
            group = known[trail].group
        else:
            number += members[_group_name(number)] >= group_trails
            group = _group_name(number)
            members[group] += 1
        after[trail] = replace(one.entry, group=group)
    return after


def _group_name(number: int) -> str:
    return f"group{number:05d}"


def _group_of(entry: TrailEntry) -> str:
    assert entry.group is not None, entry.trail
    return entry.group


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
