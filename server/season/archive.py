"""The season over an archive of many trails, on a terminal."""

from __future__ import annotations

import argparse
import importlib.util
import sys
import textwrap
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from layers.errors import BadValue
from layers.nesting.season.report import format_cell
from layers.nesting.season.report.record import plain
from layers.nesting.season.result import Measure
from server.live.prepare import prepare
from server.terminal import print_json, print_table

if TYPE_CHECKING:
    from layers.pooling.season.groups import ArchiveSeason, GroupSeason

HEADS = (
    *("group", "trails", "boxes checked", "nests", "fledged", "failed", "unknown"),
    *("nest success", "95 %", "daily survival", "clutch"),
)
_BAR = 30


def add_archive_arguments(command: argparse.ArgumentParser) -> None:
    """Options that hold for an archive alone."""
    command.add_argument(
        "--workers",
        type=int,
        default=0,
        metavar="N",
        help="of an archive: processes to share the work among; needs Dask",
    )
    command.add_argument(
        "--scheduler",
        metavar="ADDRESS",
        help="of an archive: a running Dask scheduler whose workers see the archive under its path",
    )
    command.add_argument(
        "--results",
        type=Path,
        metavar="FOLDER",
        help="of an archive: where each part's result is stored, to go on from; within it if left "
        "out",
    )
    command.add_argument(
        "--leave-out-broken",
        action="store_true",
        help="of an archive: go on without the parts that cannot be read, and name them",
    )


def season_over_archive(arguments: argparse.Namespace) -> int:
    """Show the season over an archive; the command `season` with a folder."""
    if importlib.util.find_spec("pyarrow") is None:
        raise BadValue("pyarrow to be installed, as by pip install boxround[pool]", "none")
    for option in ("output", "public"):
        if getattr(arguments, option):
            raise BadValue(f"a trail file with --{option}", f"the archive {arguments.trail}")
    if arguments.workers < 0:
        raise BadValue("0 workers or more", str(arguments.workers), column="workers")
    from server.pooling.view import ArchiveQuery, season_of_archive  # noqa: PLC0415 - optional

    if arguments.workers:
        # Otherwise every worker would compile for itself.
        prepare(lambda text: print(text, file=sys.stderr, flush=True))
    found = season_of_archive(
        ArchiveQuery(
            archive=arguments.trail,
            by=arguments.by,
            seasons=None if arguments.year is None else (arguments.year,),
            species=arguments.species or None,
            on=arguments.on,
            workers=arguments.workers,
            scheduler=arguments.scheduler,
            results=arguments.results,
            leave_out_broken=arguments.leave_out_broken,
        ),
        _show,
    )
    if arguments.json:
        methods: dict[str, object] = {}
        print_json({**plain(found, methods), "methods": methods})
        return 0
    print_table(HEADS, [_row(one) for one in (*found.groups, found.whole)])
    print()
    for line in _model(found):
        print(textwrap.fill(line, 96))
    for line in found.left_out:
        print(f"Left out: {line}")
    return 0


def _show(done: int, total: int, name: str) -> None:
    """A progress bar on a terminal; a line at the end elsewhere."""
    if sys.stderr.isatty():
        full = _BAR * done // total
        bar = "#" * full + "." * (_BAR - full)
        print(f"\r[{bar}] {done} of {total} parts", end="", file=sys.stderr, flush=True)
        if done == total:
            print(file=sys.stderr)
    elif done == total:
        print(f"{done} of {total} parts", file=sys.stderr)


def _row(one: GroupSeason) -> list[str]:
    success = one.survival.success
    interval = success.interval
    between = "" if interval is None else f"{100 * interval.low:.0f} to {100 * interval.high:.0f} %"
    counts = (one.counts.attempts, one.counts.fledged, one.counts.failed, one.counts.unknown)
    return [
        one.group,
        str(one.trails),
        "" if one.checked is None else str(one.checked),
        *(str(count) for count in counts),
        _value(success),
        between,
        _value(one.survival.daily),
        _value(one.clutch),
    ]


def _value(measure: Measure) -> str:
    return format_cell(measure).split(" (")[0] if measure.estimate is not None else ""


def _model(found: ArchiveSeason) -> Iterator[str]:
    yield found.whole.survival.success.sentence()
    model = found.model
    for one in getattr(model, "coefficients", ()):
        yield (
            f"Model of daily survival (logit), {one.name}: {one.estimate:.3f}, 95 % interval "
            f"{one.low:.3f} to {one.high:.3f}."
        )
