"""What becomes of one odd file: the way that `boxround add` takes, without adding anything."""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import shapely

from layers.errors import Fault, Refused
from layers.nesting.guide import Guide
from layers.trail.importing import Kind, import_file, import_proposal
from layers.trail.importing.proposing import propose, read_grids
from layers.trail.importing.proposing.features import propose_features
from layers.trail.store import Trail
from server.importing.understanding import known_of
from tests.trail.importing.imports import TODAY

VISIT = {"box": "A1", "date": "2026-05-14", "eggs": "5"}
BOX = {"box": "N1", "lat": "42.6", "lon": "-77.9"}
STORED: Mapping[str, str] = {
    **{"date": "seen_on", "time": "seen_at", "lat": "geometry", "lon": "geometry"},
    **{"facing": "facing_deg", "installed": "installed_on"},
}
"""The column of the trail that a column of a file fills, where their names differ."""
OF_LIBRARIES = re.compile(
    r"Traceback|object at 0x|<closed|flags=|\b(?:fiona|GDAL|OGR|calamine|pyproj|shapely|sqlite"
    r"|pyarrow|Arrow)\b|\b\w+(?:Error|Exception)\b",
    re.IGNORECASE,
)
"""What sentences for people do not hold."""


def table_of(path: Path, kind: Kind, column: str, cell: str) -> Path:
    """A table of one sound row whose cell in `column` is the odd one."""
    row = {**(VISIT if kind == "visits" else BOX), column: cell}
    if kind == "visits" and column in ("young", "young_days", "dead_young", "parasite_eggs"):
        del row["eggs"]
    with path.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([row.keys(), row.values()])
    return path


def outcome(path: Path, kind: Kind, column: str, trail: Trail, guide: Guide) -> str:
    """What becomes of a file, in a line: the way by its header, else as it is understood."""

    def species(name: str) -> str:
        return guide.find(name).common

    try:
        done = import_file(kind, path, trail, today=TODAY, species=species, dry_run=True)
    except Refused as error:
        by_header = error
    else:
        if not done.preview:
            return "nothing to add"
        return shown(done.preview[0], STORED.get(column, column))
    try:
        if kind == "visits":
            known = known_of(trail, guide, today=TODAY)
            proposal = propose(read_grids(path), known=known, answers={}, file=path.name)
            records = proposal.records
            if proposal.questions:
                return f"asked: {', '.join(one.key for one in proposal.questions)}"
            if not records:
                return refusal(by_header.faults)
            if records[0].unread is not None:
                return refusal(records[0].faults(path.name, ()))
            done = import_proposal(proposal, trail, today=TODAY, species=species, dry_run=True)
            return shown(done.preview[0], STORED.get(column, column))
        features = propose_features(path, kind, trail, answers={})
    except Refused as error:
        return refusal(error.faults)
    if features.questions:
        return f"asked: {', '.join(one.key for one in features.questions)}"
    return refusal(by_header.faults)


def shown(row: Mapping[str, Any], column: str) -> str:
    """The value that would be stored, and the note where the odd cell went there."""
    value, note = row.get(column), row.get("note")
    if isinstance(value, shapely.Point):
        value = f"{value.y:.6g}, {value.x:.6g}"
    if column == "note" or note is None:
        return f"= {value}"
    return f"= {value}, note {note}"


def refusal(faults: Sequence[Fault]) -> str:
    """The first fault; it is a sentence for people."""
    sentence = "; ".join(f"{one.expected}, got {one.came}" for one in faults)
    assert not OF_LIBRARIES.search(sentence), sentence
    assert faults[0].expected, "a refusal says what to do"
    return f"refused: {sentence}"
