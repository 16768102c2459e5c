"""A GeoPackage 1.4 (OGC 12-128r19) of all collections, made anew, with styles for a desktop GIS.

Styles lie in a table `layer_styles`, the open convention by which desktop GIS programs
find them: one row a style, as SLD 1.0 and as QML.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import shapely

from layers.trail.connection import translated
from layers.trail.exporting.collection import Collection, Source
from layers.trail.geometry import SRS_ID, to_blob
from layers.trail.geopackage import APPLICATION_ID, CORE, USER_VERSION, column

_OURS = """
CREATE TABLE about (
  fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, subject TEXT NOT NULL, text TEXT);
CREATE TABLE layer_styles (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, f_table_catalog TEXT(256),
  f_table_schema TEXT(256), f_table_name TEXT(256), f_geometry_column TEXT(256),
  styleName TEXT(30), styleQML TEXT, styleSLD TEXT, useAsDefault BOOLEAN, description TEXT,
  owner TEXT(30), ui TEXT(30),
  update_time DATETIME DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')));
INSERT INTO gpkg_contents (table_name, data_type, identifier, description) VALUES
  ('about', 'attributes', 'about', 'What is shown, and under which terms'),
  ('layer_styles', 'attributes', 'layer_styles', 'How a desktop GIS draws the layers');
"""


@dataclass(frozen=True)
class Style:
    """How a desktop GIS draws a collection; of several the `default` one comes first."""

    collection: str
    name: str
    note: str
    qml: str
    sld: str
    default: bool


def write_geopackage(path: Path, source: Source, *, styles: Sequence[Style]) -> None:
    """Write every collection as a layer, and the styles."""
    with translated(path):
        connection = sqlite3.connect(path)
        try:
            connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
            connection.execute(f"PRAGMA user_version = {USER_VERSION}")
            connection.executescript(CORE + _OURS)
            for name in source.names:
                _add_table(connection, source.collection(name))
            connection.executemany(
                "INSERT INTO about (subject, text) VALUES (?, ?)",
                [
                    ("title", source.title),
                    ("statement", source.statement),
                    ("licence", source.licence),
                ],
            )
            connection.executemany(
                "INSERT INTO layer_styles (f_table_catalog, f_table_schema, f_table_name,"
                " f_geometry_column, styleName, styleQML, styleSLD, useAsDefault, description,"
                " owner) VALUES ('', '', ?, 'geom', ?, ?, ?, ?, ?, '')",
                [
                    (one.collection, one.name, one.qml, one.sld, one.default, one.note)
                    for one in styles
                ],
            )
            connection.commit()
        finally:
            connection.close()


def _add_table(connection: sqlite3.Connection, one: Collection) -> None:
    lines = [column(field) for field in one.fields]
    connection.execute(
        f"CREATE TABLE {one.name} (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,"
        f" geom {one.geometry}, {', '.join(lines)})"
    )
    connection.execute(
        "INSERT INTO gpkg_contents (table_name, data_type, identifier, description, min_x, min_y,"
        " max_x, max_y, srs_id) VALUES (?, 'features', ?, ?, ?, ?, ?, ?, ?)",
        (one.name, one.name, one.note, *(one.bounds or [None] * 4), SRS_ID),
    )
    # 2: some shapes may have heights; 0: none has.
    heights = 2 if shapely.has_z(one.shapes).any() else 0
    connection.execute(
        "INSERT INTO gpkg_geometry_columns VALUES (?, 'geom', ?, ?, ?, 0)",
        (one.name, one.geometry, SRS_ID, heights),
    )
    marks = ", ".join("?" * (len(one.fields) + 1))
    columns = ", ".join(f'"{field.name}"' for field in one.fields)
    for page in one.pages():
        connection.executemany(
            f"INSERT INTO {one.name} (geom, {columns}) VALUES ({marks})",
            (
                [None if row.shape is None else to_blob(row.shape), *row.values.values()]
                for row in page
            ),
        )
