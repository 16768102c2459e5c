"""Imports boxes, paths, places and zones: what is new, what is there already."""

from __future__ import annotations

import hashlib
import math
import re
from collections.abc import Callable, Mapping
from collections.abc import Set as AbstractSet
from datetime import date
from functools import partial
from typing import Any

import numpy as np
import shapely
from pyproj import Geod
from shapely.geometry.base import BaseGeometry

from layers.errors import Fault
from layers.trail.checking import SAME_PLACE_M
from layers.trail.importing.cells import Cells, quoted
from layers.trail.importing.columns import Kind, Reader, read_length, reader_of, units_of
from layers.trail.importing.coordinates import Reprojector
from layers.trail.importing.dates import DayOrder
from layers.trail.importing.shapes import Form, Positions
from layers.trail.importing.source import Findings, Row
from layers.trail.importing.spool import Spool, differences
from layers.trail.schema import TABLES
from layers.trail.store import Trail
from layers.trail.words import plain_id

_MOVED_M = 0.1
"""What rounding may move a box before it counts as another place."""

_GEOD = Geod(ellps="WGS84")

ReadColumns = Callable[[Cells], dict[str, Any]]


def column_reader(kind: Kind, trail: Trail, *, today: date, dates: DayOrder | None) -> ReadColumns:
    """What gives the columns of a row of a kind, noting faults in its cells."""
    settings = trail.settings()
    lengths = [field for field in TABLES[kind].fields if units_of(field)]
    readers: dict[str, tuple[Reader, bool]] = {}
    for field in TABLES[kind].fields:
        if field in lengths:
            continue
        # A box may be planned; only what was done to it is never later than today.
        latest = today if (kind, field.name) == ("boxes", "cleaned_on") else None
        words = settings.words(field.name) if field.extendable else None
        reader = reader_of(field, words=words, dates=dates, today=latest)
        readers[field.name] = reader, field.required

    def read(cells: Cells) -> dict[str, Any]:
        clean = {
            name: cells.require(name, reader, expected=f"the {TABLES[kind][name].note}")
            if required
            else cells.optional(name, reader)
            for name, (reader, required) in readers.items()
        }
        clean |= {field.name: read_length(cells, field) for field in lengths}
        if kind == "boxes":
            _check_box(clean, cells)
        return clean

    return read


def feature_intake(
    trail: Trail,
    kind: Kind,
    *,
    form: Form | None,
    reprojector: Reprojector,
    today: date,
    spool: Spool,
    findings: Findings,
    dates: DayOrder | None = None,
    apart: AbstractSet[str] = frozenset(),
) -> FeatureIntake:
    """What takes in the rows of a file of a kind; `apart` is as of `BoxIntake`."""
    wanted = TABLES[kind].geometry
    assert wanted is not None, f"{kind} have no shapes"
    make = partial(BoxIntake, apart=apart) if kind == "boxes" else FeatureIntake
    return make(
        stored_features(trail, kind),
        read=column_reader(kind, trail, today=today, dates=dates),
        positions=Positions(form, wanted=wanted, reprojector=reprojector),
        spool=spool,
        findings=findings,
    )


_MONTH = "(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)"
_MADE_OF_AN_ID = re.compile(
    rf"true|false|\d{{4}}-\d\d-\d\d(?:t.*)?|\d{{1,2}}-{_MONTH}(?:-\d\d)?|{_MONTH}-\d\d",
    re.IGNORECASE,
)
"""What spreadsheets make of ids like 1-1 or T; as they show it in a table of text."""


def _check_box(clean: Mapping[str, Any], cells: Cells) -> None:
    if clean["box"] is not None and _MADE_OF_AN_ID.fullmatch(clean["box"]):
        needed = "the id painted on the box (set the column to text, and type the ids again)"
        cells.fault(needed, f"{quoted(clean['box'])}, which a spreadsheet made of it", "box")
    if clean["pair"] is not None and clean["pair"] == clean["box"]:
        cells.fault("the id of another box", quoted(clean["pair"]), "pair")
    first, last = clean["installed_on"], clean["removed_on"]
    if first is not None and last is not None and last < first:
        cells.fault(f"a day from {first} on, when it was installed", last, "removed_on")


class FeatureIntake:
    """Compares each feature with those before it in the file and with those of the trail.

    Parameters
    ----------
    read
        Gives the columns of one row, noting faults in the cells.
    """

    _one_shape_a_row = False

    def __init__(
        self,
        stored: list[dict[str, Any]],
        *,
        read: ReadColumns,
        positions: Positions,
        spool: Spool,
        findings: Findings,
    ) -> None:
        self._read = read
        self._positions = positions
        self._spool = spool
        self._findings = findings
        self._there = {self._identity(row): row for row in stored}
        self.already_there = 0

    def add_row(self, raw: Mapping[str, object], row: Row) -> list[Mapping[str, Any]]:
        """Read one row and keep what of it is new; the clean rows it stands for."""
        cells = Cells(raw, row=row.number, file=row.file)
        columns = self._read(cells)
        shapes = self._positions.read(row, cells)
        if self._one_shape_a_row and len(shapes) > 1:
            cells.fault("one point", f"{len(shapes)} points", "geometry")
        self._findings.add_faults(cells.faults)
        if cells.faults:
            return []
        rows: list[Mapping[str, Any]] = [columns | {"geometry": shape} for shape in shapes]
        for clean in rows:
            if self._repeats(clean, row):
                continue
            stored = self._there.get(self._identity(clean))
            if stored is None:
                self._add(clean, row)
            elif changed := self._changes(clean, stored):
                self._fault(row, "what the trail holds already (nothing is changed here)", changed)
            else:
                self.already_there += 1
        return rows

    def finish(self) -> None:
        """Check what only the whole file can show."""

    def _fault(self, row: Row, expected: str, came: str, column: str | None = None) -> None:
        self._findings.add_faults(
            [Fault(expected, came, file=row.file, row=row.number, column=column)]
        )

    def _identity(self, row: Mapping[str, Any]) -> str:
        """What makes a feature the same one when it is imported again."""
        shape: BaseGeometry | None = row["geometry"]
        wkb = b"" if shape is None else shapely.to_wkb(shape)
        return hashlib.sha256(repr(row["name"]).encode() + wkb).hexdigest()

    def _repeats(self, clean: Mapping[str, Any], row: Row) -> bool:
        before = self._spool.remember(self._identity(clean), str(row.number))
        if before is not None:
            self._findings.add_note(
                f"{row.file} row {row.number} has the name and shape of row {before}; left out"
            )
        return before is not None

    def _changes(self, clean: Mapping[str, Any], stored: Mapping[str, Any]) -> str:
        """How a row differs from the stored one; a blank cell is no difference."""
        filled = {name: value for name, value in clean.items() if value is not None}
        return differences(filled, stored)

    def _add(self, clean: Mapping[str, Any], row: Row) -> None:
        self._spool.add(clean)


class BoxIntake(FeatureIntake):
    """As for other features, but a box is the same one by its id.

    `apart` holds ids that read like another's and are those of other boxes all the same.
    """

    _one_shape_a_row = True

    def __init__(
        self, stored: list[dict[str, Any]], *, apart: AbstractSet[str] = frozenset(), **rest: Any
    ) -> None:
        super().__init__(stored, **rest)
        self._places = {
            row["box"]: (row["geometry"].x, row["geometry"].y)
            for row in stored
            if row["geometry"] is not None
        }
        self._pair_of = {row["box"]: row["pair"] for row in stored}
        self._apart = apart
        self._by_plain_id = {plain_id(row["box"]): row["box"] for row in stored}
        self._new: dict[str, Row] = {}

    def finish(self) -> None:
        for box, row in self._new.items():
            pair = self._pair_of[box]
            if pair is not None and pair not in self._pair_of:
                self._fault(row, "the id of a box of this trail or file", quoted(pair), "pair")
        for one, other in near_pairs(self._places, among=list(self._new)):
            if self._pair_of[one] == other or self._pair_of[other] == one:
                continue
            self._findings.add_note(
                f"boxes {one} and {other} are within {SAME_PLACE_M:g} m of each other"
            )

    def _identity(self, row: Mapping[str, Any]) -> str:
        return str(row["box"])

    def _repeats(self, clean: Mapping[str, Any], row: Row) -> bool:
        before = self._spool.remember(clean["box"], str(row.number))
        if before is not None:
            came = f"{quoted(clean['box'])}, as in row {before}"
            self._fault(row, "a box id that is in the file once", came, "box")
        return before is not None

    def _changes(self, clean: Mapping[str, Any], stored: Mapping[str, Any]) -> str:
        changed = super()._changes(clean, stored)
        old, new = stored["geometry"], clean["geometry"]
        if old is None:
            return ", ".join(filter(None, ["a place instead of none", changed]))
        moved_m = _GEOD.inv(old.x, old.y, new.x, new.y)[2]
        if moved_m <= _MOVED_M:
            return changed
        return ", ".join(filter(None, [f"a place {moved_m:.1f} m away", changed]))

    def _add(self, clean: Mapping[str, Any], row: Row) -> None:
        plain = plain_id(clean["box"])
        alike = self._by_plain_id.setdefault(plain, clean["box"])
        if plain and alike != clean["box"] and clean["box"] not in self._apart:
            more = "capital letters, blanks, signs or leading zeros"
            expected = f"an id that differs from {alike!r} in more than {more}"
            self._fault(row, expected, quoted(clean["box"]), "box")
            return
        super()._add(clean, row)
        self._new[clean["box"]] = row
        self._pair_of[clean["box"]] = clean["pair"]
        self._places[clean["box"]] = (clean["geometry"].x, clean["geometry"].y)


def near_pairs(
    places: Mapping[str, tuple[float, float]], *, among: list[str]
) -> list[tuple[str, str]]:
    """Pairs of boxes nearer than `SAME_PLACE_M`, each box of `among` with one other at most.

    `places` maps each box to its longitude and latitude.
    """
    first_at: dict[tuple[float, float], str] = {}
    for box, place in places.items():
        first_at.setdefault(place, box)
    # Equal places are paired here, so that many boxes at one do not make many pairs.
    pairs = [(first_at[places[box]], box) for box in among if first_at[places[box]] != box]
    ids, fresh = list(first_at.values()), set(among)
    lonlat = np.array(list(first_at)).reshape(-1, 2)
    new = [i for i, box in enumerate(ids) if box in fresh]
    reach = SAME_PLACE_M / 110_000 / np.maximum(np.cos(np.radians(lonlat[new, 1])), 1e-3)
    around = shapely.box(*(lonlat[new] - reach[:, None]).T, *(lonlat[new] + reach[:, None]).T)
    for position, other in shapely.STRtree([*map(shapely.Point, lonlat)]).query(around).T.tolist():
        one = new[position]
        if one == other or (ids[other] in fresh and other > one):
            continue
        if _GEOD.inv(*lonlat[one], *lonlat[other])[2] < SAME_PLACE_M:
            pairs.append((ids[other], ids[one]))
    return pairs


def stored_features(trail: Trail, kind: str) -> list[dict[str, Any]]:
    """Rows of a table with shapes, as mappings; missing values and empty shapes are None."""

    def plain(value: Any) -> Any:
        missing = isinstance(value, float) and math.isnan(value)
        empty = isinstance(value, BaseGeometry) and value.is_empty
        return None if missing or empty else value

    frame = getattr(trail, kind)()
    return [{name: plain(value) for name, value in row.items()} for row in frame.to_dict("records")]
