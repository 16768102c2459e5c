"""What is wrong in a trail file: the file itself, its tables, ids and places.

Reads only. Sequences of visits that cannot be are found by
`layers.nesting.oddities`, which knows the biology.
"""

from __future__ import annotations

import stat
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby
from typing import Any, Literal

import numpy as np
import shapely
from pyproj import Geod

from layers.errors import BadValue, BoxroundError, NotATrail
from layers.trail import geopackage
from layers.trail.geometry import SRS_ID
from layers.trail.importing.coordinates import check_vertices
from layers.trail.map_schema import BOXES
from layers.trail.recurring import recurring_days
from layers.trail.schema import TABLES, VISITS
from layers.trail.store import Trail
from layers.trail.words import plain_id

SAME_PLACE_M = 1.0
"""Two boxes nearer than this are reported, unless they are a pair."""

PEOPLE_ENDING = ".people"
"""Ends the name of the file beside a trail that lists its users; see `server.people`."""

_GEOD = Geod(ellps="WGS84")

Severity = Literal["fault", "look"]


@dataclass(frozen=True)
class Finding:
    """One thing found: a `fault` to mend, or something to `look` at."""

    severity: Severity
    where: str
    what: str

    def __str__(self) -> str:
        return f"{self.severity}: {self.where}: {self.what}"


def check_trail(trail: Trail) -> list[Finding]:
    """Everything found, faults of the file first; an empty list is a sound trail."""
    found = list(_file(trail))
    if any(finding.where == "file" for finding in found):
        # In a damaged file the rest would only say the same again.
        return found
    unusable = list(_settings(trail))
    found += unusable
    found += _shapes(trail)
    found += _closures(trail)
    found += _boxes(trail)
    found += _visits(trail)
    found += _readers(trail)
    if not unusable:
        found += _words(trail)
    return sorted(found, key=lambda finding: finding.severity)


def _file(trail: Trail) -> Iterator[Finding]:
    try:
        verdicts = trail.rows("PRAGMA integrity_check")
    except NotATrail as error:
        yield Finding("fault", "file", f"SQLite finds damage: {error}")
        return
    for (verdict,) in verdicts:
        if verdict != "ok":
            yield Finding("fault", "file", f"SQLite finds damage: {verdict}")
    for row in trail.rows("PRAGMA foreign_key_check"):
        yield Finding("fault", "file", f"row {row[1]} of {row[0]} points at nothing in {row[2]}")
    for pragma, expected in (
        ("application_id", geopackage.APPLICATION_ID),
        ("user_version", geopackage.USER_VERSION),
    ):
        (number,) = trail.rows(f"PRAGMA {pragma}")[0]
        if number != expected:
            yield Finding("fault", "file", f"{pragma} is {number}, a GeoPackage 1.4 has {expected}")
    registered = {row[0] for row in trail.rows("SELECT table_name FROM gpkg_contents")}
    triggers = {row[0] for row in trail.rows("SELECT name FROM sqlite_master WHERE type='trigger'")}
    for name in sorted(geopackage.triggers().keys() - triggers):
        yield Finding("fault", "file", f"trigger {name} is missing: changes may go unseen")
    for name, table in TABLES.items():
        if name not in registered:
            yield Finding("fault", "file", f"table {name} is not registered in gpkg_contents")
        present = {row[1] for row in trail.rows(f"PRAGMA table_info({name})")}
        for column in sorted(set(table.columns) - present):
            yield Finding("fault", "file", f"column {column} is missing from table {name}")


def _settings(trail: Trail) -> Iterator[Finding]:
    try:
        trail.settings()
    except BoxroundError as error:
        yield Finding("fault", "table trail", str(error))


def _closures(trail: Trail) -> Iterator[Finding]:
    """Days when paths and zones are closed; those that cannot be read close them always."""
    for name in ("paths", "zones"):
        for fid, text in trail.rows(f"SELECT fid, closed_when FROM {name} WHERE closed_when != ''"):
            try:
                recurring_days(str(text))
            except BadValue as error:
                yield Finding("fault", f"{name} row {fid}", f"closed_when: {error}")


def _shapes(trail: Trail) -> Iterator[Finding]:
    for name, table in TABLES.items():
        if table.geometry is None:
            continue
        features = getattr(trail, name)()
        for fid, shape in zip(features["fid"], features.geometry, strict=True):
            where = f"{name} row {fid}"
            if shape is None or shape.is_empty:
                yield Finding("fault", where, "has no place")
            elif shape.geom_type.upper() != table.geometry:
                yield Finding("fault", where, f"is a {shape.geom_type}, expected {table.geometry}")
            elif not shapely.is_valid(shape):
                yield Finding("fault", where, shapely.is_valid_reason(shape))
            elif not _on_earth(shape.bounds):
                yield Finding("fault", where, f"is outside longitude and latitude: {shape.bounds}")
            elif shape.geom_type == "LineString":
                try:
                    check_vertices(shape, shapely.get_coordinates(shape))
                except BadValue as error:
                    expected = error.fault.expected
                    yield Finding("look", where, f"expected {expected}, has {error.fault.came}")
        (index,) = trail.rows(
            f"SELECT count(*) FROM {name} WHERE geom NOTNULL AND fid NOT IN"
            f" (SELECT id FROM rtree_{name}_geom)"
        )[0]
        if index:
            yield Finding("fault", f"table {name}", f"{index} rows are not in the spatial index")
        wrong = trail.rows(
            "SELECT srs_id FROM gpkg_geometry_columns WHERE table_name = ? AND srs_id != ?",
            (name, SRS_ID),
        )
        if wrong:
            yield Finding("fault", f"table {name}", f"reference system {wrong[0][0]}, not {SRS_ID}")


def _on_earth(bounds: tuple[float, float, float, float]) -> bool:
    min_x, min_y, max_x, max_y = bounds
    return min_x >= -180 and max_x <= 180 and min_y >= -90 and max_y <= 90


def _boxes(trail: Trail) -> Iterator[Finding]:
    boxes = trail.boxes()
    ids = sorted(boxes["box"], key=plain_id)
    for plain, alike in groupby(ids, key=plain_id):
        names = sorted(alike)
        if plain and len(names) > 1:
            what = "ids differ only in case, spaces, signs or leading zeros"
            yield Finding("look", f"boxes {', '.join(names)}", what)
    known = set(ids)
    for box, pair in zip(boxes["box"], boxes["pair"], strict=True):
        if pair is not None and pair not in known:
            yield Finding("fault", f"box {box}", f"is paired with {pair}, which does not exist")
    for box, first, last in zip(
        boxes["box"], boxes["installed_on"], boxes["removed_on"], strict=True
    ):
        if isinstance(first, str) and isinstance(last, str) and last < first:
            yield Finding("fault", f"box {box}", f"removed on {last}, before it stood on {first}")
    for name in (field.name for field in BOXES.fields if field.kind == "day"):
        for box, day in trail.rows(
            f"SELECT box, {name} FROM boxes"
            f" WHERE {name} NOTNULL AND date({name}, '+0 days') IS NOT {name}"
        ):
            what = f"has {name} {day!r}, expected a day like 2026-05-14"
            yield Finding("fault", f"box {box}", what)
    placed = boxes[~(boxes.geometry.isna() | boxes.geometry.is_empty)]
    lon, lat = placed.geometry.x.to_numpy(), placed.geometry.y.to_numpy()
    names, pairs = placed["box"].tolist(), placed["pair"].tolist()
    # Candidates within a square that is wide enough at any latitude, then the true distance.
    reach = SAME_PLACE_M / 110_000 / np.maximum(np.cos(np.radians(lat)), 1e-3)
    tree = shapely.STRtree(placed.geometry.to_numpy())
    near, other = tree.query(shapely.box(lon - reach, lat - reach, lon + reach, lat + reach))
    for i, j in zip(near.tolist(), other.tolist(), strict=True):
        if i < j and names[j] != pairs[i] and names[i] != pairs[j]:
            _, _, distance_m = _GEOD.inv(lon[i], lat[i], lon[j], lat[j])
            if distance_m < SAME_PLACE_M:
                what = f"stand {distance_m:.1f} m apart and are not a pair"
                yield Finding("look", f"boxes {names[i]}, {names[j]}", what)


def _visits(trail: Trail) -> Iterator[Finding]:
    for box, number in trail.rows(
        "SELECT box, count(*) FROM visits WHERE box NOT IN (SELECT box FROM boxes) GROUP BY box"
    ):
        yield Finding("fault", f"visits of {box}", f"{number} visits to a box that does not exist")
    for visit_id, replaces in trail.rows(
        "SELECT visit_id, replaces FROM visits WHERE replaces NOTNULL"
        " AND replaces NOT IN (SELECT visit_id FROM visits WHERE visit_id NOTNULL)"
    ):
        yield Finding("fault", f"visit {visit_id}", f"replaces {replaces}, which does not exist")
    for replaces, number in trail.rows(
        "SELECT replaces, count(*) FROM visits WHERE replaces NOTNULL"
        " GROUP BY replaces HAVING count(*) > 1"
    ):
        yield Finding("look", f"visit {replaces}", f"is replaced {number} times")
    for visit_id, box, was in trail.rows(
        "SELECT later.visit_id, later.box, first.box FROM visits AS later"
        " JOIN visits AS first ON first.visit_id = later.replaces WHERE later.box != first.box"
    ):
        yield Finding("look", f"visit {visit_id}", f"moves a visit from box {was} to box {box}")
    for visit_id, box, seen_on in trail.rows(
        "SELECT visit_id, box, seen_on FROM visits WHERE date(seen_on, '+0 days') IS NOT seen_on"
    ):
        what = f"has the day {seen_on!r}, expected one like 2026-05-14"
        yield Finding("fault", f"visit {visit_id} of {box}", what)
    for field, unfit in geopackage.unfit_numbers(VISITS):
        for visit_id, box, value in trail.rows(
            f"SELECT visit_id, box, {field.name} FROM visits WHERE {unfit}"
        ):
            what = f"has {field.name} {value!r}, expected {geopackage.expected_number(field)}"
            yield Finding("fault", f"visit {visit_id} of {box}", what)


def _readers(trail: Trail) -> Iterator[Finding]:
    """Files that others on this machine may read or change, and should not."""
    people = trail.path.with_name(trail.path.name + PEOPLE_ENDING)
    for path in (people, *(people.with_name(people.name + end) for end in ("-wal", "-shm"))):
        if path.exists() and path.stat().st_mode & (stat.S_IRWXG | stat.S_IRWXO):
            what = "others on this machine may read the names of its users: chmod 600"
            yield Finding("look", f"file {path.name}", what)
    if trail.path.stat().st_mode & stat.S_IWOTH:
        what = "anybody on this machine may change it: chmod o-w"
        yield Finding("look", f"file {trail.path.name}", what)


def _words(trail: Trail) -> Iterator[Finding]:
    settings = trail.settings()
    listed = [
        (name, field) for name, table in TABLES.items() for field in table.fields if field.words
    ]
    for table, field in listed:
        words = settings.words(field.name) if field.extendable else field.words
        counted: list[tuple[Any, int]] = trail.rows(
            f'SELECT "{field.name}", count(*) FROM {table} WHERE "{field.name}" NOTNULL GROUP BY 1'
        )
        for text, number in counted:
            strange = [part.strip() for part in str(text).split(";") if part.strip() not in words]
            for word in filter(None, strange):
                what = f"{word!r} in {number} rows is not one of {', '.join(words)}"
                yield Finding("fault", f"table {table}, column {field.name}", what)
