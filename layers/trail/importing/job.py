"""Imports one file into a trail: all of it, or nothing and every fault."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from functools import partial
from pathlib import Path
from typing import Any

from layers.errors import BadValue, Fault
from layers.trail.importing.cells import is_blank
from layers.trail.importing.columns import COLUMNS, Columns, Kind
from layers.trail.importing.coordinates import reference_system
from layers.trail.importing.dates import DayOrder, utc_text
from layers.trail.importing.features import FeatureIntake, feature_intake
from layers.trail.importing.header import columns_of, reprojector_of
from layers.trail.importing.opening import open_table
from layers.trail.importing.own_visits import NOT_KEPT, OwnVisits, is_own_header
from layers.trail.importing.proposing.answers import LEAVE_OUT
from layers.trail.importing.proposing.columns import OWN
from layers.trail.importing.proposing.proposal import Proposal
from layers.trail.importing.source import Findings, Progress, Row, Table
from layers.trail.importing.spool import Spool
from layers.trail.importing.visit_intake import Ask, VisitIntake, questions_about_new
from layers.trail.importing.visits import VisitRules
from layers.trail.store import Trail

PREVIEW_ROWS = 5
_REPORT_EVERY_ROWS = 2000


@dataclass(frozen=True)
class ImportResult:
    """What became of a file.

    Attributes
    ----------
    added
        Rows added; with `dry_run`, rows that would be.
    already_there
        Rows that the trail held already.
    preview
        The first clean rows as the trail holds them, the shape under `geometry`.
    columns
        Our column name to the name in the file.
    ignored
        Columns of the file that hold something and stand for none of ours.
    notes
        How the file was read and what to look at.
    own
        Columns of the file that visits keep under their names there.
    import_id
        What the added visits bear, so that they can be taken back together.
    unclear
        Rows that were left for later, where the clear ones alone were wanted: the sheet, the
        row, and why.
    questions
        What is odd about visits, each with its box and day; they are added all the same. Of
        very many, the first; `more_questions` counts the others.
    beside
        Rows added to other tables: waypoints that are places, with boxes.
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
    own: tuple[str, ...] = ()
    import_id: str | None = None
    unclear: tuple[tuple[str, int, str], ...] = ()
    questions: tuple[str, ...] = ()
    more_questions: int = 0
    beside: Mapping[str, int] = field(default_factory=dict)


def import_file(
    kind: Kind,
    source: Path,
    trail: Trail,
    *,
    today: date,
    species: Callable[[str], str],
    columns: Mapping[str, str] | None = None,
    crs: str | None = None,
    dates: DayOrder | None = None,
    ask: Ask | None = None,
    far_is_right: bool = False,
    dry_run: bool = False,
    progress: Progress | None = None,
) -> ImportResult:
    """Import a file into a trail.

    Parameters
    ----------
    today
        No visit is later.
    species
        Gives the guide's name for what a person wrote; raises `BadValue` naming the nearest.
    columns
        Our column name to the file's, where the header does not show it.
    crs
        Reference system of the coordinates, such as `EPSG:27700`; needed where the file
        states none, and goes before what it states.
    dates
        How days like 03/04/2026 are meant; None = such a day is refused.
    ask
        What to ask about the visits of a box that are new, given all of its visits.
    far_is_right
        Whether places far from the trail are meant; else they are refused.
    dry_run
        Read, check and compare, but add nothing.
    progress
        Called while the file is read (with bytes, rows or features, by format), then,
        from zero again, with the rows added.

    Raises
    ------
    Refused
        With every fault of the file; the trail is as it was.
    BadValue
        `crs` is no reference system, or was given for visits, which have no places.
    """
    given = None if crs is None else reference_system(crs)
    if kind == "visits" and given is not None:
        raise BadValue("no reference system, since visits have no places", str(crs), column="crs")
    report: Progress = progress or (lambda done, total: None)
    findings = Findings()
    import_id = str(uuid.uuid4()) if kind == "visits" else None
    with open_table(source, kind=kind, progress=report) as table, Spool() as spool:
        found, form = columns_of(
            table, source.suffix.lower(), kind=kind, mapping=columns or {}, given=given
        )
        intake: VisitIntake | FeatureIntake
        own_file: OwnVisits | None = None
        if kind == "visits":
            rules = VisitRules.of(trail, species=species, today=today, dates=dates)
            intake = VisitIntake(trail, rules=rules, spool=spool, findings=findings)
            reprojector = None
            if is_own_header(table.header):
                own_file = OwnVisits(source, trail, spool=spool, findings=findings)
        else:
            reprojector = reprojector_of(table, trail, given=given, far_is_right=far_is_right)
            intake = feature_intake(
                trail,
                kind,
                form=form,
                reprojector=reprojector,
                today=today,
                dates=dates,
                spool=spool,
                findings=findings,
            )
        preview, others = _import_rows(
            table, found, intake, findings, keep_others=kind == "visits", own_file=own_file
        )
        own, ignored = (others, []) if kind == "visits" else ([], others)
        findings.refuse(source.name)
        about = ask if kind == "visits" else None
        odd, more = questions_about_new(trail, spool, about, report)
        if len(spool) and not dry_run:
            check = None
            if isinstance(intake, VisitIntake) and import_id is not None:
                check = partial(intake.check_again, import_id)
            trail.add_many(kind, _reported(spool, report, import_id), before_commit=check)
        notes = [*table.notes, reprojector and reprojector.note(), *findings.notes()]
        return ImportResult(
            kind=kind,
            file=source.name,
            added=len(spool),
            already_there=intake.already_there,
            dry_run=dry_run,
            preview=preview,
            columns=found.chosen,
            ignored=(*ignored, *table.unread),
            notes=tuple(note for note in notes if note),
            own=tuple(own),
            questions=odd,
            more_questions=more,
            import_id=import_id if len(spool) and not dry_run else None,
        )


def import_proposal(
    proposal: Proposal,
    trail: Trail,
    *,
    today: date,
    species: Callable[[str], str],
    ask: Ask | None = None,
    clear_only: bool = False,
    dry_run: bool = False,
    progress: Progress | None = None,
    before_commit: Callable[[list[str]], None] | None = None,
) -> ImportResult:
    """Import the visits that a file was understood to hold.

    Parameters
    ----------
    ask
        As of `import_file`.
    clear_only
        Add the visits without faults and open questions, and name the rows of the others
        in `ImportResult.unclear`.
    before_commit
        Called with the ids of the visits while they are in and others wait.

    Raises
    ------
    Refused
        With every fault, open questions among them; the trail is as it was.
    """
    findings = Findings()
    import_id = str(uuid.uuid4())
    unclear: list[tuple[str, int, str]] = []
    preview: list[Mapping[str, Any]] = []
    with Spool() as spool:
        rules = VisitRules.of(trail, species=species, today=today)
        intake = VisitIntake(trail, rules=rules, spool=spool, findings=findings)
        for record in proposal.records:
            where = f"{proposal.file} ({record.sheet})" if record.sheet else proposal.file
            faults = record.faults(where, proposal.questions)
            clean: list[Mapping[str, Any]] = []
            if faults:
                findings.add_faults(faults)
            else:
                clean = intake.add_row(record.values, Row(record.row, where, ()))
            if clear_only and (new := findings.take_faults()):
                unclear.append((record.sheet, record.row, "; ".join(map(str, new))))
            if len(preview) < PREVIEW_ROWS:
                preview += clean
        intake.finish()
        if not proposal.records:
            came = "none that names a box and a day"
            findings.add_faults([Fault("visits to add", came, file=proposal.file)])
        findings.refuse(proposal.file)
        report = progress or (lambda done, total: None)
        odd, more = questions_about_new(trail, spool, ask, report)
        if len(spool) and not dry_run:
            rows = _reported(spool, report, import_id)
            ids = [str(row["visit_id"]) for row in spool.rows()] if before_commit else []

            def settle() -> None:
                intake.check_again(import_id)
                if before_commit is not None:
                    before_commit(ids)

            trail.add_many("visits", rows, before_commit=settle)
        columns = [one for one in proposal.decisions if one.section == "columns"]
        return ImportResult(
            kind="visits",
            file=proposal.file,
            added=len(spool),
            already_there=intake.already_there,
            dry_run=dry_run,
            preview=tuple(preview[:PREVIEW_ROWS]),
            columns={one.value: one.item for one in columns if one.value in COLUMNS["visits"]},
            ignored=tuple(one.item for one in columns if one.value == LEAVE_OUT),
            notes=(*proposal.notes, *findings.notes()),
            own=tuple(one.item for one in columns if one.value == OWN),
            import_id=import_id if len(spool) and not dry_run else None,
            unclear=tuple(unclear),
            questions=odd,
            more_questions=more,
        )


def _import_rows(
    table: Table,
    found: Columns,
    intake: VisitIntake | FeatureIntake,
    findings: Findings,
    *,
    keep_others: bool,
    own_file: OwnVisits | None,
) -> tuple[tuple[Mapping[str, Any], ...], list[str]]:
    """Import every row; the first clean ones, and names of columns that are none of ours.

    With `keep_others` a row keeps what it has in those, as its own columns. `own_file` settles
    the rows of a file that Boxround exported.
    """
    preview: list[Mapping[str, Any]] = []
    unused: list[str] = []
    others = [(i, name) for i, name in found.others if not (own_file and name in NOT_KEPT)]
    not_ours = dict(others)
    empty = True
    for row in table.rows:
        empty = False
        if isinstance(row, Fault):
            findings.add_faults([row])
            continue
        cells, width = row.cells, len(row.cells)
        for position in [i for i in not_ours if i < width and not is_blank(cells[i])]:
            unused.append(not_ours.pop(position) or f"column {position + 1}, without a name")
        raw = {ours: cells[i] for ours, i in found.at.items() if i < width}
        if own_file is not None:
            raw = own_file.settle(raw, row)
        if keep_others and others and is_blank(raw.get("own_columns")):
            raw["own_columns"] = {
                name or f"column {i + 1}": cells[i]
                for i, name in others
                if i < width and not is_blank(cells[i])
            }
        clean = intake.add_row(raw, row)
        if len(preview) < PREVIEW_ROWS:
            preview += clean
    if empty:
        came = "a header alone" if table.header and not table.shaped else "none"
        findings.add_faults([Fault("rows to add", came, file=table.file)])
    intake.finish()
    return tuple(preview[:PREVIEW_ROWS]), unused


def _reported(spool: Spool, report: Progress, import_id: str | None) -> Iterator[Mapping[str, Any]]:
    """The spooled rows, reporting how many were given.

    Visits have the id of their import, and its moment as that of their entry: a row for which
    the trail file fills that in takes twice as long.
    """
    now = utc_text(datetime.now(UTC))
    for number, row in enumerate(spool.rows(), start=1):
        if import_id is not None:
            row |= {"import_id": import_id, "entered_at": row["entered_at"] or now}
        yield row
        if number % _REPORT_EVERY_ROWS == 0 or number == len(spool):
            report(number, len(spool))
