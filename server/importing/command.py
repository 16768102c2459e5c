"""The command that imports a file into a trail."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from types import MappingProxyType

from layers.errors import BadValue
from layers.nesting.guide import guide_with
from layers.trail.importing import KINDS, ImportResult, import_file
from layers.trail.store import Trail
from server.live.clock import Clock
from server.terminal import add_trail

ALMOST_ALL = 0.999


def _arguments(command: argparse.ArgumentParser) -> None:
    command.add_argument("kind", choices=KINDS, help="what the file holds")
    command.add_argument("file", type=Path, metavar="FILE")
    add_trail(command)
    command.add_argument(
        "--map",
        nargs="+",
        default=[],
        metavar="OURS=THEIRS",
        help="which of the file's columns is which of ours, such as box=Number",
    )
    command.add_argument(
        "--crs",
        help="reference system of the coordinates, such as EPSG:32618, unless the file states it",
    )
    command.add_argument(
        "--dates", choices=("day-first", "month-first"), help="how dates like 3/4/2026 are meant"
    )
    command.add_argument("--dry-run", action="store_true", help="check and show, add nothing")
    command.set_defaults(run=_add)


def _add(args: argparse.Namespace) -> int:
    columns = dict(_pair(text) for text in args.map)
    with Trail.open(args.trail) as trail:
        settings = trail.settings()
        guide = guide_with(settings.guide)
        result = import_file(
            args.kind,
            args.file,
            trail,
            today=Clock().today(settings.zone),
            species=lambda name: guide.find(name).common,
            columns=columns,
            crs=args.crs,
            dates=args.dates,
            dry_run=args.dry_run,
            progress=_show_progress if sys.stderr.isatty() else None,
        )
    _print(result)
    return 0


def _pair(text: str) -> tuple[str, str]:
    ours, equals, theirs = text.partition("=")
    if not equals:
        raise BadValue("OURS=THEIRS, such as box=Number", repr(text), column="map")
    return ours, theirs


def _show_progress(done: int, total: int | None) -> None:
    share = f"{done / total:6.1%}" if total else f"{done:,}"
    end = "\n" if total and done >= ALMOST_ALL * total else ""
    print(f"\r{share} read", end=end, file=sys.stderr, flush=True)


def _print(result: ImportResult) -> None:
    would = "would be added" if result.dry_run else "added"
    print(f"{result.file}: {result.added} {result.kind} {would}", end="")
    there = result.already_there
    print(f", {there} already there." if there else ".")
    renamed = [
        f"{ours} from {theirs!r}" for ours, theirs in result.columns.items() if ours != theirs
    ]
    if renamed:
        print(f"Columns: {', '.join(renamed)}.")
    if result.ignored:
        print(f"Not used: {', '.join(result.ignored)}. Use --map if one of them is ours.")
    for note in result.notes:
        print(f"Note: {note}.")
    if result.dry_run:
        for row in result.preview:
            cells = (f"{name} {value}" for name, value in row.items() if value is not None)
            print(f"  {', '.join(cells)}")


ARGUMENTS: Mapping[str, Callable[[argparse.ArgumentParser], None]] = MappingProxyType(
    {"add": _arguments}
)
