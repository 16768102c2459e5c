"""From a file of boxes or paths to what it seems to hold; what is in doubt is a question."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

import pyproj

from layers.errors import BadValue, Fault, Refused
from layers.trail.importing.book import SUFFIXES as BOOKS
from layers.trail.importing.cells import Cells, is_blank
from layers.trail.importing.columns import Kind
from layers.trail.importing.coordinates import (
    Reprojector,
    reference_system,
    trail_location,
)
from layers.trail.importing.header import columns_of, reprojector_of
from layers.trail.importing.opening import open_table
from layers.trail.importing.proposing.answers import (
    LEAVE_OUT,
    Answers,
    Decision,
    Place,
    Question,
    Settled,
)
from layers.trail.importing.proposing.feature_questions import (
    Feature,
    ask_about_alike,
    ask_about_far,
    ask_about_waypoints,
    in_degrees,
    systems_of,
)
from layers.trail.importing.proposing.feature_tables import SYSTEM, TidyTable
from layers.trail.importing.proposing.line_repair import repaired
from layers.trail.importing.shapes import Form, Positions
from layers.trail.importing.sheet import SUFFIXES as SHEETS
from layers.trail.importing.source import Row, Table, refused
from layers.trail.importing.text import SUFFIXES as TEXTS
from layers.trail.importing.vector import NAMES_BOXES
from layers.trail.schema import TABLES
from layers.trail.store import Trail

MAX_FEATURES = 20_000
"""More than a person can look through; larger files are read as a stream, by their header."""
REPAIR = "without them"


@dataclass(frozen=True)
class FeatureProposal:
    """What a file of features seems to hold; as `Proposal` for visits.

    `apart` holds ids that read like another's and are those of other boxes all the same.
    """

    file: str
    kind: Kind
    features: tuple[Feature, ...]
    decisions: tuple[Decision, ...]
    questions: tuple[Question, ...]
    left_out: tuple[tuple[Place, str], ...]
    notes: tuple[str, ...]
    faults: tuple[Fault, ...]
    form: Form | None
    reprojector: Reprojector
    apart: frozenset[str]
    columns: Mapping[str, str]
    unused: tuple[str, ...]


def propose_features(
    path: Path,
    kind: Kind,
    trail: Trail,
    *,
    answers: Answers,
    crs: str | None = None,
    far_is_right: bool = False,
) -> FeatureProposal:
    """Read the boxes or paths of a file.

    Parameters
    ----------
    answers
        What a person has decided, by `Question.section` and `item`; goes before all else.
    crs, far_is_right
        As of `import_file`.

    Raises
    ------
    Refused
        The file cannot be read, or nothing in it reads like such features.
    """
    settled = Settled(answers)
    with _table(path, kind, settled) as (table, left_out):
        return _Reader(path, kind, trail, settled).read(
            table, left_out, crs=crs, far_is_right=far_is_right
        )


@contextmanager
def _table(
    path: Path, kind: Kind, settled: Settled
) -> Iterator[tuple[Table, list[tuple[Place, str]]]]:
    """The table of a file; one whose first row is no header of ours is tidied first."""
    if path.suffix.lower() not in (*TEXTS, *SHEETS, *BOOKS):
        with open_table(path, kind=kind, progress=lambda done, total: None) as table:
            yield table, []
        return
    if not path.is_file():
        raise refused(path.name, "a file", f"no file {path}")
    tidy = TidyTable(path, kind, settled)
    yield tidy.table(), tidy.left_out


class _Reader:
    def __init__(self, path: Path, kind: Kind, trail: Trail, settled: Settled) -> None:
        self._suffix = path.suffix.lower()
        self._file = path.name
        self._kind = kind
        self._trail = trail
        self._settled = settled

    def read(
        self,
        table: Table,
        left_out: list[tuple[Place, str]],
        *,
        crs: str | None,
        far_is_right: bool,
    ) -> FeatureProposal:
        given = self._system(table, crs)
        found, form = columns_of(table, self._suffix, kind=self._kind, mapping={}, given=given)
        reprojector = reprojector_of(table, self._trail, given=given, far_is_right=True)
        self._positions = Positions(
            form, wanted=TABLES[self._kind].geometry or "POINT", reprojector=reprojector
        )
        features: list[Feature] = []
        faults: list[Fault] = []
        not_ours, unused = dict(found.others), list[str]()
        for row in table.rows:
            if isinstance(row, Fault):
                faults.append(row)
                continue
            if len(features) >= MAX_FEATURES:
                raise refused(self._file, f"at most {MAX_FEATURES:,} {self._kind}", "more")
            raw = {ours: row.cells[i] for ours, i in found.at.items() if i < len(row.cells)}
            for at in [i for i in not_ours if i < len(row.cells) and not is_blank(row.cells[i])]:
                unused.append(not_ours.pop(at) or "a column without a name")
            features.append(self._feature(row, raw))
        if self._kind == "boxes" and self._suffix in NAMES_BOXES:
            ask_about_waypoints(features, self._settled, boxes=self._trail.box_ids())
        apart = ask_about_alike(features, self._settled, boxes=self._trail.box_ids())
        if not far_is_right:
            ask_about_far(features, self._settled, trail_location(self._trail))
        kept = [one for one in features if one.kind is not None]
        left_out += [(one.place, one.odd) for one in features if one.kind is None]
        left_out += [(Place("", 0, 0), name) for name in table.unread]
        return FeatureProposal(
            file=self._file,
            kind=self._kind,
            features=tuple(kept),
            decisions=tuple(self._settled.decisions.values()),
            questions=tuple(self._settled.questions.values()),
            left_out=tuple(left_out),
            notes=tuple(table.notes),
            faults=tuple(faults),
            form=form,
            reprojector=reprojector,
            apart=apart,
            columns=found.chosen,
            unused=tuple(unused),
        )

    def _system(self, table: Table, crs: str | None) -> pyproj.CRS | None:
        """The reference system that was given, or the answer to a question about it."""
        if crs is not None:
            return reference_system(crs)
        header = set(table.header)
        if table.shaped:
            needed = table.crs is None
        else:
            needed = not {"lat", "lon"} <= header and ({"x", "y"} <= header or "geometry" in header)
        if not needed:
            return None
        if "geometry" in header and in_degrees(table, trail_location(self._trail)):
            grounds = "its numbers are longitude and latitude near this trail"
            return reference_system(self._settled.decide("columns", SYSTEM, "EPSG:4326", grounds))
        near = trail_location(self._trail)
        options = systems_of(near)
        answer = self._settled.ask(
            Question(
                "columns",
                SYSTEM,
                "In which reference system are the coordinates? The file does not state it.",
                options or {LEAVE_OUT: "not known: nothing can be added"},
                proposal=next(iter(options), None),
                grounds="that of the region of this trail" if options else "",
                free=True,
            )
        )
        try:
            return reference_system(answer or next(iter(options), "EPSG:4326"))
        except BadValue as error:
            raise Refused(f"{self._file} was refused; nothing was added", (error.fault,)) from None

    def _feature(self, row: Row, raw: dict[str, object]) -> Feature:
        key = "box" if self._kind == "boxes" else "name"
        name = " ".join(str(raw.get(key) or "").split()) or f"row {row.number}"
        made = Feature(row, name, self._kind, raw, Place("", row.number, 1))
        # What a column means holds for every row.
        made.open += [
            one.key for one in self._settled.questions.values() if one.section == "columns"
        ]
        cells = Cells(raw, row=row.number, file=row.file)
        made.shapes = self._positions.read(row, cells)
        if cells.faults and self._kind == "paths" and row.shape is not None:
            self._mend(made, cells.faults)
        else:
            made.faults = tuple(cells.faults)
        return made

    def _mend(self, made: Feature, faults: list[Fault]) -> None:
        """Ask whether vertices that no walk has are to be left out of a path."""
        assert made.row.shape is not None
        try:
            shape = repaired(made.row.shape)
        except (TypeError, ValueError, KeyError, IndexError):
            shape = None
        if shape is None:
            made.kind, made.odd = None, f"{made.name}: {faults[0].came}"
            return
        cells = Cells(made.raw, row=made.row.number, file=made.row.file)
        row = replace(made.row, shape=shape)
        shapes = self._positions.read(row, cells)
        if cells.faults:
            made.faults = tuple(faults)
            return
        made.odd = faults[0].came
        answer = self._settled.ask(
            Question(
                "shapes",
                "wrong vertices",
                f"Some paths hold vertices that no walk has, such as {faults[0].came} in"
                f" {made.name!r}. Add these paths without such vertices?",
                {
                    REPAIR: "yes, without those vertices",
                    LEAVE_OUT: "no, leave these paths out",
                },
                proposal=REPAIR,
            ),
            made.place,
        )
        made.shapes = shapes
        if answer is None:
            made.open.append("shapes: wrong vertices")
        elif answer == LEAVE_OUT:
            made.kind, made.odd = None, f"{made.name}: you left it out"
        else:
            made.row = row


__all__ = ["Feature", "FeatureProposal", "propose_features"]
