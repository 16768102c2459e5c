"""Four faces give out the public data: a published folder, an exported file, `/open`, `/open/ogc`.

Every column of every table is the same on all of them, byte for byte where the format is.
"""

from __future__ import annotations

import csv
import io
import json
import sqlite3
import uuid
import zipfile
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
import shapely
from fastapi.testclient import TestClient

from layers.trail.public_rules import PublicRules
from server.app import create_app
from server.command import main
from server.settings import ServerSettings
from tests.publishing.planted import planted, write
from tests.server.ogc.doors import Door

HOST = "http://127.0.0.1"
ON = "2026-07-31"
KML = "{http://www.opengis.net/kml/2.2}"
MIXED = PublicRules(
    ongoing="in use",
    withheld_species=("tree swallow",),
    released=("paths", "places", "zones"),
    licence="CC BY 4.0",
)

Row = dict[str, Any]


@dataclass(frozen=True)
class Faces:
    """A published folder, a maker of exports, and a server, all of one trail and day."""

    folder: Path
    export: Callable[..., Path]
    client: TestClient
    tables: tuple[str, ...]

    def features(self, table: str) -> list[Any]:
        """The rows of a table, as the folder's GeoJSON has them."""
        body = (self.folder / f"{table}.geojson").read_bytes()
        features: list[Any] = json.loads(body)["features"]
        return features

    def rows(self, table: str) -> list[Row]:
        return [one["properties"] for one in self.features(table)]


@pytest.fixture(scope="module", params=["demo", "mixed"])
def faces(
    request: pytest.FixtureRequest, built: Path, tmp_path_factory: pytest.TempPathFactory
) -> Any:
    here = tmp_path_factory.mktemp("faces")
    demo = request.param == "demo"
    made = planted(60)
    # A coarse trail releases no ground.
    shown = tuple(row | {"public": "shown"} for row in made.box_rows)
    mixed = replace(made, box_rows=shown)
    trail = built if demo else write(here / "trail.gpkg", mixed, MIXED)
    assert main(["publish", str(trail), "-o", str(here / "site"), "--on", ON]) == 0

    def export(name: str, *words: str) -> Path:
        asked = ["export", str(trail), "--public", "-o", str(here / name), "--on", ON]
        assert main([*asked, *words]) == 0
        return here / name

    tables = ("cells", "nests", "paths", "places", "zones")
    with TestClient(
        create_app(ServerSettings(trail=trail, on=date.fromisoformat(ON))), base_url=HOST
    ) as client:
        yield Faces(here / "site", export, client, tables)


def test_files_of_one_format_are_the_same_bytes(faces: Faces) -> None:
    data = {path.name for path in faces.folder.iterdir() if path.suffix in (".csv", ".geojson")}
    assert data == {
        "dictionary.csv",
        *(f"{table}{ending}" for table in faces.tables for ending in (".csv", ".geojson")),
    }
    for path in faces.folder.iterdir():
        if path.name != "boxround-site.txt":
            assert faces.client.get(f"/open/{path.name}").content == path.read_bytes(), path.name
    for table in faces.tables:
        for ending in (".csv", ".geojson"):
            made = faces.export(f"{table}{ending}", "--table", table)
            for beside in made.parent.glob(f"{made.name}*"):
                assert beside.read_bytes() == (faces.folder / beside.name).read_bytes()


def test_the_feature_service_gives_the_features_of_the_files(faces: Faces) -> None:
    door = Door(faces.client, f"{HOST}/open/ogc")
    assert set(faces.tables) <= set(door.names())
    for table in faces.tables:
        served = [
            {name: one[name] for name in ("type", "id", "geometry", "properties")}
            for one in door.features(table, limit=1000)
        ]
        assert json.dumps(served) == json.dumps(faces.features(table))
        assert served


def test_tables_of_text_hold_the_same_columns_in_the_same_order(faces: Faces) -> None:
    explained = (faces.folder / "dictionary.csv").read_text("utf-8")
    for table in faces.tables:
        text = (faces.folder / f"{table}.csv").read_bytes().decode()
        head, *lines = csv.reader(io.StringIO(text, newline=""))
        features = faces.features(table)
        columns = list(features[0]["properties"])
        place = ["lon", "lat"] if features[0]["geometry"]["type"] == "Point" else ["wkt"]
        assert head == [*columns, *place, "trail"]
        assert [one[1] for one in csv.reader(explained.splitlines()) if one[0] == table] == head
        for line, feature in zip(lines, features, strict=True):
            shape = shapely.from_geojson(json.dumps(feature["geometry"]))
            where = [shape.x, shape.y] if isinstance(shape, shapely.Point) else [shape.wkt]
            cells = [as_text(value) for value in (*feature["properties"].values(), *where)]
            assert line[:-1] == cells
            assert uuid.UUID(line[-1])


def test_a_geopackage_and_a_kml_hold_the_same_values(faces: Faces) -> None:
    package, kml = faces.export("all.gpkg"), faces.export("all.kml")
    root = ElementTree.parse(kml).getroot()
    folders = {one.findtext(f"{KML}name"): one for one in root.iter(f"{KML}Folder")}
    with sqlite3.connect(package) as connection:
        for table in faces.tables:
            rows = faces.rows(table)
            cursor = connection.execute(f"SELECT * FROM {table} ORDER BY fid")
            names = [one[0] for one in cursor.description]
            assert names == ["fid", "geom", *rows[0]]
            assert [dict(zip(names[2:], row[2:], strict=True)) for row in cursor] == rows
            placed = [
                {one.attrib["name"]: one.findtext(f"{KML}value") for one in mark.iter(f"{KML}Data")}
                for mark in folders[table].iter(f"{KML}Placemark")
            ]
            assert placed == [
                {name: as_text(value) for name, value in row.items() if value is not None}
                for row in rows
            ]
    connection.close()


def test_an_archive_holds_the_same_nests(faces: Faces) -> None:
    with zipfile.ZipFile(faces.export("nests.zip")) as archive:
        events, found = (
            list(csv.DictReader(io.StringIO(archive.read(name).decode())))
            for name in ("event.csv", "occurrence.csv")
        )
    features = faces.features("nests")
    assert [
        (
            one["eventID"],
            one["locationID"],
            int(one["coordinateUncertaintyInMeters"]),
            one["eventDate"],
            one["eventRemarks"],
            [float(one["decimalLongitude"]), float(one["decimalLatitude"])],
        )
        for one in events
    ] == [
        (
            row["nest"],
            row["cell"],
            row["uncertainty_m"],
            row["ended"],
            f"fate: {row['fate']}",
            feature["geometry"]["coordinates"],
        )
        for feature in features
        for row in [feature["properties"]]
    ]
    counted = {(one["eventID"], one["lifeStage"]): one["individualCount"] for one in found}
    for row in faces.rows("nests"):
        for column, stage in (("eggs", "egg"), ("young", "nestling")):
            assert counted.get((row["nest"], stage), "") == as_text(row[column] or None)
    assert {one["vernacularName"] or None for one in found} == {
        row["species"] for row in faces.rows("nests")
    }


def as_text(value: Any) -> str:
    return "" if value is None else str(value)
