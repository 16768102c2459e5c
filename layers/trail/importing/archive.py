"""Darwin Core archives that Boxround wrote for the team: boxes and visits come back whole.

Terms of Darwin Core hold a part of a visit; all of it is JSON in `dynamicProperties`
(https://dwc.tdwg.org/terms/#dwc:dynamicProperties).
"""

from __future__ import annotations

import csv
import io
import json
import zipfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from layers.errors import Fault
from layers.trail.exporting.darwin import BOX_EVENT, EVENT_TERMS, VISIT_EVENT
from layers.trail.importing.sheet import check_unpacked, damage_refused
from layers.trail.importing.source import Progress, Row, Table, refused
from layers.trail.schema import TABLES

_EVENTS = "event.csv"
_EXPECTED = "a Darwin Core archive that Boxround wrote for the team"
_LONGEST_CELL = 1 << 20


def is_archive(path: Path) -> bool:
    """Whether a zip file describes itself as an archive."""
    try:
        with zipfile.ZipFile(path) as archive:
            return "meta.xml" in archive.namelist()
    except (zipfile.BadZipFile, OSError):
        return False


@contextmanager
def open_archive(path: Path, *, kind: str, progress: Progress) -> Iterator[Table]:
    """The boxes or visits of an archive while the block lasts; progress counts rows.

    Raises
    ------
    Refused
        It holds no events, or none that Boxround can read back.
    """
    wanted = {"boxes": BOX_EVENT, "visits": VISIT_EVENT}.get(kind)
    if wanted is None:
        raise refused(path.name, f"a format that holds {kind}", "a Darwin Core archive")
    with damage_refused(path.name, "a damaged or foreign file", expected=_EXPECTED):
        check_unpacked(path)
        archive = zipfile.ZipFile(path)
    with archive:
        if _EVENTS not in archive.namelist():
            raise refused(path.name, _EXPECTED, f"one without {_EVENTS}")
        with archive.open(_EVENTS) as raw, io.TextIOWrapper(raw, "utf-8", newline="") as file:
            events = csv.DictReader(file, strict=True)
            with damage_refused(path.name, "a damaged file", expected=_EXPECTED):
                terms = tuple(events.fieldnames or ())
            if terms != EVENT_TERMS:
                raise refused(path.name, _EXPECTED, "one with other columns")
            shaped = kind == "boxes"
            table = Table(path.name, TABLES[kind].columns, iter(()), shaped=shaped)
            table.crs = "EPSG:4326" if shaped else None
            table.rows = _rows(events, table, wanted, progress)
            yield table


def _rows(
    events: Iterator[dict[str, str]], table: Table, wanted: str, progress: Progress
) -> Iterator[Row | Fault]:
    number = 1
    with damage_refused(table.file, "a damaged file", expected=_EXPECTED):
        for number, event in enumerate(events, start=2):
            if event["eventType"] != wanted:
                continue
            stored = _stored(event["dynamicProperties"])
            if stored is None:
                yield Fault(
                    "what Boxround stores of it, as JSON",
                    "something else",
                    file=table.file,
                    row=number,
                    column="dynamicProperties",
                )
                continue
            cells = [stored.get(name) for name in table.header]
            yield Row(number, table.file, cells, _place(event) if table.shaped else None)
    progress(number, number)


def _stored(text: str | None) -> Mapping[str, Any] | None:
    try:
        held = json.loads(text or "") if len(text or "") <= _LONGEST_CELL else None
    except ValueError:
        return None
    return held if isinstance(held, dict) else None


def _place(event: Mapping[str, str]) -> Mapping[str, Any] | None:
    try:
        lon, lat = float(event["decimalLongitude"]), float(event["decimalLatitude"])
    except (ValueError, TypeError):
        return None
    return {"type": "Point", "coordinates": (lon, lat)}
