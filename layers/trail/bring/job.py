"""Brings one file into a trail: all of it, or nothing and every fault."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from functools import partial
from pathlib import Path
from typing import Any

import pyproj

from layers.errors import BadValue, Fault, Refused
from layers.trail.bring.box_row import BoxRules, read_box
from layers.trail.bring.days import DayOrder
from layers.trail.bring.feature_intake import BoxIntake, FeatureIntake, stored_features
from layers.trail.bring.findings import Findings
from layers.trail.bring.formats import open_table
from layers.trail.bring.header import Columns, choose_columns
from layers.trail.bring.kinds import COLUMNS, NEEDED, READERS, Kind
from layers.trail.bring.placing import Placer, reference_system
from layers.trail.bring.positions import (
    AS_POINT,
    AS_SHAPE,
    Form,
    Positions,
    form_of,
    lacking,
)
from layers.trail.bring.source import Progress, Table, refused
from layers.trail.bring.spool import Spool
from layers.trail.bring.values import is_blank
from layers.trail.bring.vector import NAMES_BOXES
from layers.trail.bring.visit_intake import VisitIntake
from layers.trail.bring.visit_rules import VisitRules
from layers.trail.bring.whereabouts import whereabouts
from layers.trail.schema import TABLES
from layers.trail.store import Trail

PREVIEW_ROWS = 5
_SAY_EVERY_ROWS = 2000


@dataclass(frozen=True)
class Brought:
    """What became of a file.

    Attributes
    ----------
    added
        Rows added; with `dry_run`, rows that would be.
    already_there
        Rows that the trail held already, so that nothing was to do.
    preview
        The first clean rows as the trail holds them, the shape under `geometry`.
    columns
        Our column name to the name in the file.
    ignored
        Columns of the file that hold something and stand for none of ours.
    notes
        How the file was read and what to look at.
    """

    kind: Kind
    file: str
    added: int
    already_there: int
    dry_run: bool
    preview: tuple[Mapping[str, Any], ...]
    columns: Mapping[str, str]
    ignored: tuple[str, ...]
    notes: tuple[str, ...]


def bring(
    kind: Kind,
    source: Path,
    trail: Trail,
    *,
    today: date,
    species: Callable[[str], str],
    columns: Mapping[str, str] | None = None,
    crs: str | None = None,
    dates: DayOrder | None = None,
    dry_run: bool = False,
    progress: Progress | None = None,
) -> Brought:
    """Bring a file into a trail.

    Parameters
    ----------
    today
        No visit is later.
    species
        Gives the guide's name for what a person wrote; raises `BadValue` naming the nearest.
    columns
        Our column name to the file's, where it cannot be told from the header.
    crs
        Reference system of the coordinates, such as `EPSG:27700`; needed where the file
        states none, and goes before what it states.
    dates
        How days like 03/04/2026 are meant; None = such a day is refused.
    dry_run
        Read, check and compare, but add nothing.
    progress
        Told what is done while the file is read (bytes, rows or features, by format), then,
        from nought again, rows while they are added.

    Raises
    ------
    Refused
        With every fault of the file; the trail is as it was.
    BadValue
        `crs` is no reference system, or was given for visits, which have no places.
    """
    told = None if crs is None else reference_system(crs)
    if kind == "visits" and told is not None:
        raise BadValue("no reference system, since visits have no places", str(crs), column="crs")
    tell: Progress = progress or (lambda done, total: None)
    findings = Findings()
    with open_table(source, kind=kind, progress=tell) as table, Spool() as spool:
        found, form = _columns(
            table, source.suffix.lower(), kind=kind, asked=columns or {}, told=told
        )
        intake: VisitIntake | FeatureIntake
        if kind == "visits":
            rules = VisitRules.of(trail, species=species, today=today, dates=dates)
            intake = VisitIntake(trail, rules=rules, spool=spool, findings=findings)
            placer = None
        else:
            wanted = TABLES[kind].geometry
            assert wanted is not None, f"{kind} have no shapes"
            placer = _placer(table, trail, told=told)
            box_rules = BoxRules(trail.settings().words("guards"), today, dates)
            intake = (BoxIntake if kind == "boxes" else FeatureIntake)(
                stored_features(trail, kind),
                read=partial(read_box, rules=box_rules) if kind == "boxes" else READERS[kind],
                positions=Positions(form, wanted=wanted, placer=placer),
                spool=spool,
                findings=findings,
            )
        preview, ignored = _take_all(table, found, intake, findings)
        findings.refuse(source.name)
        if len(spool) and not dry_run:
            trail.add_rows(kind, _told_of(spool, tell))
        notes = [*table.notes, placer and placer.note(), *findings.notes()]
        return Brought(
            kind=kind,
            file=source.name,
            added=len(spool),
            already_there=intake.already_there,
            dry_run=dry_run,
            preview=preview,
            columns=found.chosen,
            ignored=(*ignored, *table.unread),
            notes=tuple(note for note in notes if note),
        )


def _columns(
    table: Table, suffix: str, *, kind: Kind, asked: Mapping[str, str], told: pyproj.CRS | None
) -> tuple[Columns, Form | None]:
    """Which column is which, and which of them give the place.

    Raises
    ------
    Refused
        A column is lacking that is needed, or a reference system to read the places in.
    """
    names = dict(COLUMNS[kind])
    if suffix in NAMES_BOXES and kind == "boxes":
        # These formats have no columns of their own: what people fill in is the name.
        names = {"box": ("name",)} | {name: names[name] for name in names if name != "box"}
    form: Form | None = None
    wanted = TABLES[kind].geometry
    if wanted is not None and not table.shaped:
        placed = {**AS_SHAPE, **(AS_POINT if wanted == "POINT" else {})}
        choice = choose_columns(table.header, names=names | placed, asked=asked, file=table.file)
        form = form_of(choice.at.keys(), system=told)
        used = (form,) if isinstance(form, str) else form or ()
        # Position columns beside those used are ignored like any other, and told of.
        names |= {name: placed[name] for name in used}
        asked = {ours: theirs for ours, theirs in asked.items() if ours in names}
    found = choose_columns(table.header, names=names, asked=asked, file=table.file)
    came = f"columns {', '.join(filter(None, table.header)) or 'without names'}"
    faults = [
        Fault(f"a column {name}, or to be told which one it is", came, file=table.file, column=name)
        for name in NEEDED.get(kind, ())
        if name not in found.at
    ]
    if wanted is not None:
        lack = lacking(table, form, wanted=wanted, told=told is not None)
        faults += [lack] if lack else []
    if faults:
        raise Refused(f"{table.file} was refused; nothing was added", tuple(faults))
    return found, form


def _placer(table: Table, trail: Trail, *, told: pyproj.CRS | None) -> Placer:
    """What turns the file's coordinates into longitude and latitude."""
    stated = None
    if table.crs is not None:
        try:
            stated = reference_system(table.crs)
        except BadValue as error:
            if told is None:
                raise refused(table.file, error.fault.expected, error.fault.came) from error
    if told is not None and stated is not None and not told.equals(stated, ignore_axis_order=True):
        table.notes.append(f"read as {told.name}, as told; the file states {stated.name}")
    return Placer(told or stated, whereabouts(trail))


def _take_all(
    table: Table, found: Columns, intake: VisitIntake | FeatureIntake, findings: Findings
) -> tuple[tuple[Mapping[str, Any], ...], list[str]]:
    """Take in every row; the first clean ones, and names of columns with unused content."""
    preview: list[Mapping[str, Any]] = []
    unused: list[str] = []
    silent = dict(found.others)
    empty = True
    for row in table.rows:
        empty = False
        if isinstance(row, Fault):
            findings.add_faults([row])
            continue
        cells, width = row.cells, len(row.cells)
        for position in [i for i in silent if i < width and not is_blank(cells[i])]:
            unused.append(silent.pop(position) or f"column {position + 1}, without a name")
        raw = {ours: cells[i] for ours, i in found.at.items() if i < width}
        clean = intake.take(raw, row)
        if len(preview) < PREVIEW_ROWS:
            preview += clean
    if empty:
        came = "a header alone" if table.header else "no rows"
        findings.add_faults([Fault("rows to add", came, file=table.file)])
    intake.finish()
    return tuple(preview[:PREVIEW_ROWS]), unused


def _told_of(spool: Spool, tell: Progress) -> Iterator[Mapping[str, Any]]:
    """The spooled rows, telling how many were given."""
    for number, row in enumerate(spool.rows(), start=1):
        yield row
        if number % _SAY_EVERY_ROWS == 0 or number == len(spool):
            tell(number, len(spool))
