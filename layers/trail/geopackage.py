"""SQL that makes an empty trail file: a valid OGC GeoPackage 1.4.

The spatial index and its triggers follow the GeoPackage 1.4 R-tree extension
(OGC 12-128r19, annex F.3). On top stand our own triggers, which hold whoever
writes, a desktop GIS too:

* every change is logged in `boxround_changes` and raises `trail.version`;
* `gpkg_contents.last_change` is set in the same transaction;
* a visit that no reader could use, or that takes the place of another, is refused;
* a visit's row is completed (id, moment of entry) and then never edited or deleted.

`boxround_changes` is not registered in `gpkg_contents`: the standard allows that,
and a GIS does not list it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from functools import cache
from types import MappingProxyType

from layers.trail.field import Field, Table
from layers.trail.geometry import SRS_ID
from layers.trail.schema import TABLES, VISITS

APPLICATION_ID = 0x47504B47
"""`GPKG`, OGC 12-128r19 requirement 2."""
USER_VERSION = 10400
"""GeoPackage 1.4; the trigger set below needs it."""

_NOW = "strftime('%Y-%m-%dT%H:%M:%fZ','now')"
_IN_CALENDAR = "'+0 days'"
"""Makes SQLite's `date` turn 31 February into a day that is; without it the day is kept."""
_DAYS = "'1900-01-01' AND '9998-12-31'"
"""Days that every reader of a trail file can hold, also in another time zone."""

_WGS84 = (
    'GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563,'
    'AUTHORITY["EPSG","7030"]],AUTHORITY["EPSG","6326"]],PRIMEM["Greenwich",0,'
    'AUTHORITY["EPSG","8901"]],UNIT["degree",0.0174532925199433,'
    'AUTHORITY["EPSG","9122"]],AXIS["Latitude",NORTH],AXIS["Longitude",EAST],'
    'AUTHORITY["EPSG","4326"]]'
)

CORE = f"""
CREATE TABLE gpkg_spatial_ref_sys (
  srs_name TEXT NOT NULL, srs_id INTEGER NOT NULL PRIMARY KEY, organization TEXT NOT NULL,
  organization_coordsys_id INTEGER NOT NULL, definition TEXT NOT NULL, description TEXT);
INSERT INTO gpkg_spatial_ref_sys VALUES
  ('Undefined Cartesian SRS', -1, 'NONE', -1, 'undefined', NULL),
  ('Undefined geographic SRS', 0, 'NONE', 0, 'undefined', NULL),
  ('WGS 84 geodetic', {SRS_ID}, 'EPSG', {SRS_ID}, '{_WGS84}', 'longitude, latitude');
CREATE TABLE gpkg_contents (
  table_name TEXT NOT NULL PRIMARY KEY, data_type TEXT NOT NULL, identifier TEXT UNIQUE,
  description TEXT DEFAULT '', last_change DATETIME NOT NULL DEFAULT ({_NOW}),
  min_x DOUBLE, min_y DOUBLE, max_x DOUBLE, max_y DOUBLE, srs_id INTEGER,
  CONSTRAINT fk_gc_r_srs_id FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id));
CREATE TABLE gpkg_geometry_columns (
  table_name TEXT NOT NULL, column_name TEXT NOT NULL, geometry_type_name TEXT NOT NULL,
  srs_id INTEGER NOT NULL, z TINYINT NOT NULL, m TINYINT NOT NULL,
  CONSTRAINT pk_geom_cols PRIMARY KEY (table_name, column_name),
  CONSTRAINT uk_gc_table_name UNIQUE (table_name),
  CONSTRAINT fk_gc_tn FOREIGN KEY (table_name) REFERENCES gpkg_contents(table_name),
  CONSTRAINT fk_gc_srs FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id));
"""
"""Tables that every GeoPackage has, and the reference systems it must know (OGC 12-128r19)."""

_OURS = """
CREATE TABLE gpkg_extensions (
  table_name TEXT, column_name TEXT, extension_name TEXT NOT NULL, definition TEXT NOT NULL,
  scope TEXT NOT NULL, CONSTRAINT ge_tce UNIQUE (table_name, column_name, extension_name));
CREATE TABLE boxround_changes (
  version INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, changed TEXT NOT NULL, box TEXT);
"""


def column(field: Field) -> str:
    """A column's name and type in SQL, as the GeoPackage standard names the type."""
    return f'"{field.name}" {"DOUBLE" if field.storage == "REAL" else field.storage}'


def _table(table: Table) -> str:
    lines = ["fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL"]
    if table.geometry is not None:
        lines.append(f"geom {table.geometry}")
    for field in table.fields:
        rule = " NOT NULL" if field.required else ""
        lines.append(f"{column(field)}{rule}{' UNIQUE' if field.unique else ''}")
    name, joined = table.name, ",\n  ".join(lines)
    kind, srs = ("attributes", "NULL") if table.geometry is None else ("features", str(SRS_ID))
    sql = (
        f"CREATE TABLE {name} (\n  {joined});\n"
        f"INSERT INTO gpkg_contents (table_name, data_type, identifier, description, srs_id)\n"
        f"  VALUES ('{name}', '{kind}', '{name}', '{table.note}', {srs});\n"
    )
    if table.geometry is not None:
        # z = 2: heights are optional, so a path with and one without may share the table.
        sql += (
            "INSERT INTO gpkg_geometry_columns VALUES "
            f"('{name}', 'geom', '{table.geometry}', {SRS_ID}, 2, 0);\n"
        )
    return sql


def _spatial_index(name: str) -> str:
    tree = f"rtree_{name}_geom"
    new_box = "ST_MinX(NEW.geom), ST_MaxX(NEW.geom), ST_MinY(NEW.geom), ST_MaxY(NEW.geom)"
    new_full = "(NEW.geom NOTNULL AND NOT ST_IsEmpty(NEW.geom))"
    new_empty = "(NEW.geom ISNULL OR ST_IsEmpty(NEW.geom))"
    old_full = "(OLD.geom NOTNULL AND NOT ST_IsEmpty(OLD.geom))"
    old_empty = "(OLD.geom ISNULL OR ST_IsEmpty(OLD.geom))"
    drop_old = f"DELETE FROM {tree} WHERE id = OLD.fid;"
    put_new = f"INSERT OR REPLACE INTO {tree} VALUES (NEW.fid, {new_box});"
    return f"""
CREATE VIRTUAL TABLE {tree} USING rtree(id, minx, maxx, miny, maxy);
INSERT INTO gpkg_extensions VALUES ('{name}', 'geom', 'gpkg_rtree_index',
  'http://www.geopackage.org/spec140/#extension_rtree', 'write-only');
CREATE TRIGGER {tree}_insert AFTER INSERT ON {name} WHEN {new_full}
  BEGIN {put_new} END;
CREATE TRIGGER {tree}_update2 AFTER UPDATE OF geom ON {name}
  WHEN OLD.fid = NEW.fid AND {new_empty} BEGIN {drop_old} END;
CREATE TRIGGER {tree}_update4 AFTER UPDATE ON {name}
  WHEN OLD.fid != NEW.fid AND {new_empty}
  BEGIN DELETE FROM {tree} WHERE id IN (OLD.fid, NEW.fid); END;
CREATE TRIGGER {tree}_update5 AFTER UPDATE ON {name}
  WHEN OLD.fid != NEW.fid AND {new_full} BEGIN {drop_old} {put_new} END;
CREATE TRIGGER {tree}_update6 AFTER UPDATE OF geom ON {name}
  WHEN OLD.fid = NEW.fid AND {new_full} AND {old_full}
  BEGIN UPDATE {tree} SET minx = ST_MinX(NEW.geom), maxx = ST_MaxX(NEW.geom),
    miny = ST_MinY(NEW.geom), maxy = ST_MaxY(NEW.geom) WHERE id = NEW.fid; END;
CREATE TRIGGER {tree}_update7 AFTER UPDATE OF geom ON {name}
  WHEN OLD.fid = NEW.fid AND {new_full} AND {old_empty}
  BEGIN INSERT INTO {tree} VALUES (NEW.fid, {new_box}); END;
CREATE TRIGGER {tree}_delete AFTER DELETE ON {name} WHEN OLD.geom NOT NULL
  BEGIN {drop_old} END;
"""


# A correction that moves a visit to another box changes the box it leaves too.
_LOG_BOX_LEFT = (
    "  INSERT INTO boxround_changes (changed, box) SELECT 'visits', box FROM visits\n"
    "    WHERE visit_id = NEW.replaces AND box != NEW.box;\n"
)


_RAISE_VERSION = "UPDATE trail SET version = (SELECT max(version) FROM boxround_changes)"


def _stamp(name: str) -> str:
    return f"UPDATE gpkg_contents SET last_change = {_NOW} WHERE table_name = '{name}'"


def _log_changes(table: Table) -> Iterator[str]:
    has_box = "box" in table.columns
    columns = ", ".join(f'"{name}"' for name in table.columns if name != "version")
    for event, rows in (("INSERT", "NEW"), ("UPDATE", "OLD NEW"), ("DELETE", "OLD")):
        # A trigger's own raising of trail.version must not be logged as a change again.
        when = f"UPDATE OF {columns}" if (event, table.name) == ("UPDATE", "trail") else event
        logged = ", ".join(
            f"('{table.name}', {f'{row}.box' if has_box else 'NULL'})" for row in rows.split()
        )
        yield (
            f"CREATE TRIGGER boxround_{table.name}_{event.lower()} AFTER {when} ON {table.name}\n"
            f"  BEGIN INSERT INTO boxround_changes (changed, box) VALUES {logged};\n"
            f"{_LOG_BOX_LEFT if (event, table.name) == ('INSERT', 'visits') else ''}"
            f"  {_RAISE_VERSION};\n"
            f"  {_stamp(table.name)};\n"
            "  END;\n"
        )


LOG_STAGED_VISITS = (
    "INSERT INTO boxround_changes (changed, box) SELECT 'visits', box FROM staged_boxes",
    "INSERT INTO boxround_changes (changed, box) SELECT DISTINCT 'visits', visits.box"
    " FROM staged JOIN main.visits ON visits.visit_id = staged.replaces"
    " WHERE visits.box != staged.box",
    _RAISE_VERSION,
    _stamp("visits"),
)
"""What the trigger does for one row, for all rows that were inserted from a table `staged`."""


def expected_number(field: Field) -> str:
    """What a number is expected to be, in words."""
    what = "a whole number" if field.storage == "INTEGER" else "a number"
    return what if field.between is None else f"{what} from {field.least} to {field.most}"


def _unfit(field: Field, value: str) -> str:
    """SQL: whether a value that is there is none of a column of numbers."""
    types = "'integer'" if field.storage == "INTEGER" else "'integer', 'real'"
    outside = (
        "" if field.between is None else f" OR {value} NOT BETWEEN {field.least} AND {field.most}"
    )
    return f"(typeof({value}) NOT IN ({types}){outside})"


def unfit_numbers(table: Table) -> Iterator[tuple[Field, str]]:
    """Each column of numbers, and the SQL condition of a row that holds something else."""
    for field in table.fields:
        if field.storage in ("INTEGER", "REAL"):
            name = f'"{field.name}"'
            yield field, f"{name} NOTNULL AND {_unfit(field, name)}"


def _keep_visits() -> str:
    def utc(value: str) -> str:
        return f"strftime('%Y-%m-%dT%H:%M:%fZ', {value})"

    moments = [field.name for field in VISITS.fields if field.storage == "DATETIME"]
    edited = [
        f"{utc(f'NEW.{name}')} IS NOT {utc(f'OLD.{name}')}"
        if name in moments
        else f"NEW.{name} IS NOT OLD.{name}"
        for name in ("fid", *VISITS.columns)
    ]
    # Random version 4 uuid (RFC 9562, 5.4), for rows that a GIS adds without one.
    uuid = (
        "lower(hex(randomblob(4)) || '-' || hex(randomblob(2)) || '-4' || "
        "substr(hex(randomblob(2)), 2) || '-' || substr('89ab', 1 + (random() & 3), 1) || "
        "substr(hex(randomblob(2)), 2) || '-' || hex(randomblob(6)))"
    )
    set_moments = ", ".join(f"{name} = {utc(name)}" for name in moments)
    numbers = "\n".join(
        f"  SELECT RAISE(ABORT, '{field.name} of a visit is {expected_number(field)}')"
        f" WHERE NEW.{field.name} NOT NULL AND {_unfit(field, f'NEW.{field.name}')};"
        for field in VISITS.fields
        if field.storage in ("INTEGER", "REAL")
    )
    # Compared one by one: for a list SQLite fills a table anew for every row.
    no_text = " OR ".join(
        f"typeof(NEW.{field.name}) = 'blob'" for field in VISITS.fields if field.storage == "TEXT"
    )
    return f"""
CREATE INDEX visits_by_box ON visits (box, seen_on);
CREATE INDEX visits_by_replaced ON visits (replaces) WHERE replaces NOT NULL;
CREATE TRIGGER boxround_visits_sound BEFORE INSERT ON visits BEGIN
  SELECT RAISE(ABORT, 'the id of a visit is taken: add a row that replaces it')
    WHERE EXISTS (SELECT 1 FROM visits WHERE fid = NEW.fid OR visit_id = NEW.visit_id);
  SELECT RAISE(ABORT, 'a visit replaces another, not itself') WHERE NEW.replaces = NEW.visit_id;
  SELECT RAISE(ABORT, 'a row that withdraws a visit names it in replaces')
    WHERE NEW.withdraws = 'yes' AND NEW.replaces ISNULL;
  SELECT RAISE(ABORT, 'seen_on of a visit is a day like 2026-05-14')
    WHERE date(NEW.seen_on, {_IN_CALENDAR}) IS NOT NEW.seen_on
      OR NEW.seen_on NOT BETWEEN {_DAYS};
  SELECT RAISE(ABORT, 'seen_at of a visit is a moment like 2026-05-14T08:30:00Z')
    WHERE NEW.seen_at NOT NULL AND ({utc("NEW.seen_at")} BETWEEN {_DAYS}) IS NOT 1;
{numbers}
  SELECT RAISE(ABORT, 'words and notes of a visit are text')
    WHERE {no_text};
END;
CREATE TRIGGER boxround_visits_complete AFTER INSERT ON visits
  WHEN NEW.visit_id ISNULL OR NEW.entered_at ISNULL
    OR NEW.entered_at NOT GLOB '*T*.???Z' OR NEW.seen_at NOT GLOB '*T*.???Z'
  BEGIN UPDATE visits SET {set_moments} WHERE fid = NEW.fid;
  UPDATE visits SET visit_id = coalesce(visit_id, {uuid}),
    entered_at = coalesce(entered_at, {_NOW}) WHERE fid = NEW.fid; END;
CREATE TRIGGER boxround_visits_never_edited BEFORE UPDATE ON visits
  WHEN OLD.visit_id NOT NULL AND OLD.entered_at NOT NULL AND ({" OR ".join(edited)})
  BEGIN SELECT RAISE(ABORT, 'a visit is never edited: add a row that replaces it'); END;
CREATE TRIGGER boxround_visits_never_deleted BEFORE DELETE ON visits
  BEGIN SELECT RAISE(ABORT, 'a visit is never deleted: add a row that replaces it'); END;
"""


def empty_trail_sql() -> str:
    """The script that makes an empty trail file, but for its one `trail` row."""
    parts = [CORE, _OURS]
    parts += [_table(table) for table in TABLES.values()]
    parts += [_spatial_index(table.name) for table in TABLES.values() if table.geometry]
    parts += [sql for table in TABLES.values() for sql in _log_changes(table)]
    parts.append(_keep_visits())
    return "\n".join(parts)


@cache
def triggers() -> Mapping[str, str]:
    """All triggers that a trail file has: name -> SQL, as SQLite keeps it."""
    found = re.finditer(r"CREATE TRIGGER (\w+).*?END(?=;$)", empty_trail_sql(), re.DOTALL | re.M)
    return MappingProxyType({trigger[1]: trigger[0] for trigger in found})
