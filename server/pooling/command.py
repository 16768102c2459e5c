"""The command that puts trails into an archive for research."""

from __future__ import annotations

import argparse
import importlib.util
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from layers.errors import BadValue, BoxroundError, NotKnown
from layers.pooling.choices import RELEASES
from server.terminal import add_day, print_table

if TYPE_CHECKING:
    from layers.pooling.archive import Archive, Pooled

NOT_ALL_DONE = 3

TOGETHER = 20
"""Trails that are held in memory and written in one change."""

FULL_CAUTION = (
    "A full release has exact places, observers and nests in use: give the archive only to people "
    "who may know them."
)


def _arguments(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "trails", nargs="*", type=Path, metavar="TRAIL", help="trail files to put in"
    )
    command.add_argument(
        "-o", "--output", type=Path, required=True, metavar="ARCHIVE", help="the archive's folder"
    )
    command.add_argument(
        "--release",
        choices=RELEASES,
        help="what these trails let go: all; finished nests in grid squares without persons; the "
        "rows of their public pages alone. Needed once for a trail, then remembered",
    )
    command.add_argument(
        "--take-back",
        metavar="TRAIL",
        help="remove every row of a trail: its file, or its identifier in the archive",
    )
    command.add_argument(
        "--compact", action="store_true", help="join small files, so that reading is fast"
    )
    command.add_argument(
        "--check", action="store_true", help="see whether every file is as it was written"
    )
    add_day(command)
    command.set_defaults(run=_pool)


def expect_pyarrow() -> None:
    """Raise `BadValue` where pyarrow, which all archives need, is not installed."""
    if importlib.util.find_spec("pyarrow") is None:
        raise BadValue("pyarrow to be installed, as by pip install boxround[pool]", "none")


def _pool(arguments: argparse.Namespace) -> int:
    expect_pyarrow()
    from layers.pooling.archive import Archive  # noqa: PLC0415 - optional, and slow to load

    archive = Archive(arguments.output)
    broken = _put_all(archive, arguments)
    if arguments.take_back is not None:
        print(_take_back(archive, arguments.take_back))
    if arguments.compact:
        print(f"{archive.path}: {archive.compact()} files joined.")
    if arguments.check:
        faults = list(archive.faults())
        print("\n".join(faults) or f"{archive.path}: every file is as it was written.")
        broken += len(faults)
    elif not (arguments.trails or arguments.take_back or arguments.compact):
        _list(archive)
    return NOT_ALL_DONE if broken else 0


def _put_all(archive: Archive, arguments: argparse.Namespace) -> int:
    """Put the trails in, some at a time; how many could not be read."""
    from server.pooling.source import read_trail  # noqa: PLC0415 - as above

    broken = 0
    for first in range(0, len(arguments.trails), TOGETHER):
        pooled = {}
        for path in arguments.trails[first : first + TOGETHER]:
            try:
                release = arguments.release or _known_release(archive, path)
                pooled[path] = read_trail(path, release=release, on=arguments.on)
            except BoxroundError as error:
                if len(arguments.trails) == 1:
                    raise
                # One broken trail takes nothing from the others.
                broken += 1
                print(f"{path}: {error}", file=sys.stderr)
        if pooled:
            changed = archive.put(list(pooled.values()))
            for path, one, written in zip(pooled, pooled.values(), changed, strict=True):
                print(f"{path}: {_describe(one, written)}")
    return broken


def _describe(pooled: Pooled, written: int) -> str:
    rows = {name: 0 for name, _ in pooled.parts}
    for (name, _), part in pooled.parts.items():
        rows[name] += len(part)
    held = ", ".join(f"{number} {name}" for name, number in rows.items()) or "nothing"
    release = pooled.entry.release
    caution = f" {FULL_CAUTION}" if release == "full" else ""
    return f"{held}, release {release}; {written} partitions written.{caution}"


def _known_release(archive: Archive, path: Path) -> str:
    from layers.pooling.manifest import NAME  # noqa: PLC0415 - as above
    from layers.trail.store import Trail  # noqa: PLC0415 - as above
    from server.pooling.source import names_of  # noqa: PLC0415 - as above

    with Trail.open(path) as trail:
        names = names_of(trail)
    known = archive.manifest().trails if (archive.path / NAME).exists() else {}
    name = next(iter(names & known.keys()), None)
    if name is None:
        raise BadValue(
            f"--release {', '.join(RELEASES[:-1])} or '{RELEASES[-1]}' for a trail that is not in "
            "the archive yet",
            "none",
            column="release",
        )
    return known[name].release


def _take_back(archive: Archive, given: str) -> str:
    known, names = archive.manifest().trails.keys(), frozenset({given})
    if Path(given).is_file():
        from layers.trail.store import Trail  # noqa: PLC0415 - as above
        from server.pooling.source import names_of  # noqa: PLC0415 - as above

        with Trail.open(Path(given)) as trail:
            names = names_of(trail)
    if not names & known:
        raise NotKnown(
            f"Expected a trail that {archive.path} holds (boxround pool -o {archive.path} lists "
            f"them), got {given}"
        )
    files = sum(archive.take_back(name) for name in sorted(names & known))
    return (
        f"{given}: taken back; {files} files had rows of it. Copies of the archive that "
        "others have, and results of seasons stored elsewhere, are not changed: ask for them."
    )


def _list(archive: Archive) -> None:
    manifest = archive.manifest()
    rows = [
        (one.name, one.release, one.as_known_on, one.region, one.licence, one.trail)
        for one in sorted(manifest.trails.values(), key=lambda one: (one.name, one.trail))
    ]
    print_table(("trail", "release", "as known on", "region", "licence", "identifier"), rows)
    total = {
        table: sum(one.rows for one in manifest.of_table(table))
        for table in sorted({one.table for one in manifest.files})
    }
    held = ", ".join(f"{number} {name}" for name, number in total.items()) or "nothing"
    print(f"{len(rows)} trails, {len(manifest.files)} files: {held}.")


ARGUMENTS = {"pool": _arguments}
