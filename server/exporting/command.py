"""The command that gives a trail out as a file, for the public or for the team."""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from types import MappingProxyType

from layers.errors import BadValue
from layers.maps.styles import public_styles, team_styles
from layers.nesting.dating import known_on
from layers.publishing.archives import write_full_archive, write_public_archive
from layers.publishing.attempts import pooled_attempts
from layers.publishing.identifiers import Identifiers
from layers.publishing.tables import PublicSource
from layers.trail.exporting.collection import Source
from layers.trail.exporting.geojson import write_geojson
from layers.trail.exporting.geopackage import write_geopackage
from layers.trail.exporting.kml import write_kml
from layers.trail.exporting.table import write_csv
from layers.trail.migrations.upgrade import readable
from layers.trail.whole_files import expect_new
from layers.trail.words import FATES
from server.live.contents import Contents
from server.live.public_views import released_view
from server.ogc.team import TeamSource
from server.terminal import add_day, add_trail, day_or_today, opened, writing

FULL_CAUTION = (
    "It shows exact places, observers and nests in use: give it only to people who may know them."
)
ONE_TABLE = (".csv", ".geojson")
"""Endings of formats that hold one table."""


@dataclass(frozen=True)
class _Order:
    """What to write: from where, of which day, and which collection where it is one."""

    source: Source
    contents: Contents
    on: date
    table: str
    identifiers: Identifiers
    visit_ids: Mapping[int, str]


def _write_geopackage(path: Path, order: _Order) -> None:
    if isinstance(order.source, PublicSource):
        styles = public_styles()
    else:
        columns = [column.name for column in order.source.collection("boxes").fields]
        styles = team_styles(order.contents.histories, columns=columns)
    write_geopackage(path, order.source, styles=styles)


def _write_archive(path: Path, order: _Order) -> None:
    def scientific(name: str) -> str | None:
        species = order.contents.guide.get(name)
        return None if species is None else species.scientific

    if isinstance(order.source, PublicSource):
        write_public_archive(path, order.source, scientific=scientific)
    else:
        histories, dates = known_on(order.contents.histories, order.on, order.contents.dates())
        attempts = pooled_attempts(
            histories,
            dates,
            order.identifiers,
            fates=[FATES[code] for code in histories.fates(order.on)],
            visit_ids=order.visit_ids,
        )
        write_full_archive(
            path,
            order.source,
            scientific=scientific,
            on=order.on,
            identifiers=order.identifiers,
            attempts=list(attempts),
        )


WRITERS: Mapping[str, Callable[[Path, _Order], None]] = MappingProxyType(
    {
        ".gpkg": _write_geopackage,
        ".geojson": lambda path, o: write_geojson(path, o.source, o.source.collection(o.table)),
        ".csv": lambda path, o: write_csv(path, o.source, o.source.collection(o.table)),
        ".kml": lambda path, o: write_kml(path, o.source),
        ".zip": _write_archive,
    }
)
"""File ending -> what writes such a file; `.zip` is a Darwin Core Archive."""


def _export_arguments(command: argparse.ArgumentParser) -> None:
    add_trail(command)
    whose = command.add_mutually_exclusive_group(required=True)
    whose.add_argument(
        "--public", action="store_true", help="what anyone may see, by the trail's public rules"
    )
    whose.add_argument(
        "--full", action="store_true", help="all there is, exact places and nests in use too"
    )
    command.add_argument(
        "-o",
        "--output",
        type=Path,
        required=True,
        metavar="FILE",
        help=f"a new file ending in {', '.join(WRITERS)} (a Darwin Core Archive)",
    )
    command.add_argument(
        "--table",
        metavar="NAME",
        help=f"which table, for {' and '.join(ONE_TABLE)}; default: boxes, for the public cells",
    )
    add_day(command)
    command.set_defaults(run=_export)


def _export(arguments: argparse.Namespace) -> int:
    target: Path = arguments.output
    ending = target.suffix.lower()
    if ending not in WRITERS:
        raise BadValue(f"a file ending in {', '.join(WRITERS)}", repr(target.name), column="output")
    if ending not in ONE_TABLE and arguments.table is not None:
        raise BadValue(
            f"--table only for {' and '.join(ONE_TABLE)}", repr(target.name), column="table"
        )
    with readable(arguments.trail) as path, opened(path) as (trail, contents):
        on = day_or_today(arguments.on, contents)
        identifiers = Identifiers(trail.identity(), trail.first_entries)
        source: Source
        if arguments.public:
            source = PublicSource(released_view(trail, contents, on))
        else:
            source = TeamSource(contents, on=on, rows=trail.rows, identifiers=identifiers)
        table = arguments.table or source.names[0]
        visit_ids = dict(trail.rows("SELECT fid, visit_id FROM visits"))
        order = _Order(source, contents, on, table, identifiers, visit_ids)
        written = _put(target, lambda path: WRITERS[ending](path, order))
        held = (table,) if ending in ONE_TABLE else source.names
        counts = ", ".join(f"{name} ({len(source.collection(name))})" for name in held)
        print(f"Wrote {' and '.join(str(path) for path in written)}: {counts}.")
        print(source.statement if arguments.public else FULL_CAUTION)
    return 0


def _put(target: Path, write: Callable[[Path], None]) -> list[Path]:
    """Write a file beside its place and move it there whole, with what was written beside it.

    Raises
    ------
    Conflict
        There is a file of that name already.
    StorageFull
        The folder cannot be written.
    """
    expect_new(target)
    with (
        writing(target),
        tempfile.TemporaryDirectory(prefix=".boxround-", dir=target.parent) as folder,
    ):
        write(Path(folder) / target.name)
        made = sorted(Path(folder).iterdir(), key=lambda path: len(path.name))
        placed = [target.with_name(path.name) for path in made]
        for place in placed:
            expect_new(place)
        for path, place in zip(made, placed, strict=True):
            path.replace(place)
    return placed


ARGUMENTS = {"export": _export_arguments}
