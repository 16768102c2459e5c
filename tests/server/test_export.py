"""Giving a trail out as a file: every format, in full and for the public."""

from __future__ import annotations

import csv
import json
import sqlite3
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pandas as pd
import pyogrio
import pytest
import shapely

from layers.maps.styles import MARKS
from layers.maps.symbols import SHAPES
from layers.maps.themes import THEMES
from layers.nesting.guide import standard_guide
from layers.nesting.histories import read_histories
from layers.trail.settings import Settings
from layers.trail.store import Trail
from server.command import main
from server.exporting.command import FULL_CAUTION, WRITERS
from tests.trail.validator import faults

HOSTILE = '<script>window.broken = 1</script> & "it\'s" ]]> \x07 œ ✂ 巣箱'
GENERALISED = "The whole trail is shown as one square of a fixed geographic grid, 0.01° wide"
SLD = {"sld": "http://www.opengis.net/sld", "ogc": "http://www.opengis.net/ogc"}

Export = Callable[..., Path]


@pytest.fixture
def export(tmp_path: Path) -> Export:
    """Export a trail to a new file; its path."""

    def run(trail: Path, whose: str, ending: str, *words: str) -> Path:
        target = tmp_path / f"{whose}{ending}"
        asked = ["export", str(trail), f"--{whose}", "-o", str(target), "--on", "2026-06-03"]
        assert main([*asked, *words]) == 0
        return target

    return run


@pytest.fixture
def odd(tmp_path: Path) -> Path:
    """One box with a visit, every text in it hostile, and a box without a place."""
    path = tmp_path / "odd.gpkg"
    with Trail.create(path, Settings(HOSTILE.replace("\x07", ""), "America/New_York")) as trail:
        point = shapely.Point(-77.9, 42.6)
        trail.add_rows(
            "boxes",
            [
                {"box": "A/1 <b>", "name": HOSTILE, "note": HOSTILE, "geometry": point},
                {"box": "B", "section": "line\nbreak, and comma"},
            ],
        )
        visit = {"seen_on": "2026-05-01", "eggs": 4, "observer": HOSTILE, "note": 'a\r\nb,\t"c"'}
        trail.add_rows("visits", [{"visit_id": "v-1", "box": "A/1 <b>", **visit}])
        trail.add_rows("places", [{"name": HOSTILE, "kind": "start", "geometry": point}])
    return path


@pytest.fixture
def empty(tmp_path: Path) -> Path:
    path = tmp_path / "empty.gpkg"
    Trail.create(path, Settings("Alderbeck Reserve", "America/New_York")).close()
    return path


def counts(path: Path) -> dict[str, int]:
    return {
        name: len(pyogrio.read_dataframe(path, layer=name)) for name, _ in pyogrio.list_layers(path)
    }


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize("whose", ["full", "public"])
def test_the_geopackage_is_valid_and_holds_every_collection(
    trail_path: Path, export: Export, whose: str
) -> None:
    made = export(trail_path, whose, ".gpkg")
    assert faults(made) == ""
    found = counts(made)
    if whose == "full":
        with Trail.open(trail_path) as trail:
            assert found["boxes"] == len(trail.boxes())
            assert found["visits"] == len(trail.visit_rows())
            assert found["paths"] == len(trail.paths())
    else:
        assert "visits" not in found
        assert found["cells"] < 20
    assert found["nests"] > 100


def test_every_shape_and_cell_of_a_box_comes_through(trail_path: Path, export: Export) -> None:
    found = pyogrio.read_dataframe(export(trail_path, "full", ".gpkg"), layer="boxes")
    with Trail.open(trail_path) as trail:
        boxes = trail.boxes()
    assert found.geometry.geom_equals(boxes.geometry).all()
    for name in ("box", "section", "hole_mm", "guards", "facing_deg"):
        assert found[name].fillna("").tolist() == boxes[name].fillna("").tolist()
    assert {"occupancy", "species", "fate"} <= set(found.columns)


def test_the_styles_show_the_maps_classes_in_the_maps_colours(
    trail_path: Path, export: Export
) -> None:
    with sqlite3.connect(export(trail_path, "full", ".gpkg")) as connection:
        styles = connection.execute(
            "SELECT f_table_name, styleName, styleSLD, styleQML, useAsDefault FROM layer_styles"
        ).fetchall()
    connection.close()
    with Trail.open(trail_path) as trail:
        histories = read_histories(trail.visits(), standard_guide(), season_starts="01-01")
    by_name = {(table, name): (sld, qml) for table, name, sld, qml, _ in styles}
    for theme in (THEMES[name] for name in ("occupancy", "species", "fate")):
        symbols = theme.painted(histories).symbols
        sld, qml = (ElementTree.fromstring(text) for text in by_name["boxes", theme.column])
        rules = sld.findall(".//sld:Rule", SLD)
        shown = {
            rule.findtext("sld:Title", namespaces=SLD): rule.findtext(
                ".//sld:Fill/sld:CssParameter", namespaces=SLD
            )
            for rule in rules
        }
        assert shown == {symbol.word: symbol.colour for symbol in symbols}
        labels = [one.attrib["label"] for one in qml.findall(".//category")]
        assert labels == [symbol.word for symbol in symbols]
        assert len(qml.findall(".//symbols/symbol")) == len(symbols)
    defaults = [(table, name) for table, name, *_, default in styles if default]
    assert defaults == [("boxes", "occupancy"), ("nests", "fate")]


def test_each_class_of_a_style_holds_the_rows_that_the_map_paints_so(
    trail_path: Path, export: Export
) -> None:
    made = export(trail_path, "full", ".gpkg")
    boxes = pyogrio.read_dataframe(made, layer="boxes")
    with sqlite3.connect(made) as connection:
        rows = connection.execute(
            "SELECT styleName, styleSLD FROM layer_styles WHERE f_table_name = 'boxes'"
        ).fetchall()
    connection.close()
    for column, text in rows:
        sld = ElementTree.fromstring(text)
        values = {one.text for one in sld.findall(".//ogc:Literal", SLD)}
        empty = sld.find(".//ogc:PropertyIsNull", SLD) is not None
        rest = sld.find(".//sld:ElseFilter", SLD) is not None
        for value in boxes[column].tolist():
            drawn = empty if pd.isna(value) else value in values or rest
            assert drawn, (column, value)


def test_no_two_shapes_of_the_map_share_a_mark() -> None:
    assert set(MARKS) == set(SHAPES)
    assert len({(m.sld, m.sld_turned_deg, m.size) for m in MARKS.values()}) == len(SHAPES)
    assert len({(m.qml, m.qml_turned_deg, m.size) for m in MARKS.values()}) == len(SHAPES)


def test_geojson_describes_what_it_shows(trail_path: Path, export: Export) -> None:
    made = json.loads(export(trail_path, "public", ".geojson").read_text(encoding="utf-8"))
    assert made["type"] == "FeatureCollection"
    assert GENERALISED in made["statement"]
    assert set(made["columns"]) == set(made["features"][0]["properties"])
    full = json.loads(
        export(trail_path, "full", ".geojson", "--table", "zones").read_text(encoding="utf-8")
    )
    assert full["name"] == "zones"
    assert {one["geometry"]["type"] for one in full["features"]} == {"Polygon"}


def test_csv_comes_with_a_data_dictionary_that_names_every_column(
    trail_path: Path, export: Export
) -> None:
    made = export(trail_path, "full", ".csv", "--table", "visits")
    described = json.loads(made.with_name(f"{made.name}-metadata.json").read_text(encoding="utf-8"))
    rows = rows_of(made)
    assert described["url"] == made.name
    assert [one["name"] for one in described["tableSchema"]["columns"]] == list(rows[0])
    assert all(one["dc:description"] for one in described["tableSchema"]["columns"])
    with Trail.open(trail_path) as trail:
        stored = {row["visit_id"]: row for row in trail.visit_rows()}
    assert len(rows) == len(stored)
    for row in rows:
        kept = stored[row["visit_id"]]
        assert {name: row[name] or None for name in kept} == {
            name: None if value is None else str(value) for name, value in kept.items()
        }


def test_kml_reads_back_with_every_folder(trail_path: Path, export: Export) -> None:
    made = export(trail_path, "full", ".kml")
    with Trail.open(trail_path) as trail:
        boxes, zones = trail.boxes(), trail.zones()
    found = pyogrio.read_dataframe(made, layer="boxes")
    assert found.geometry.geom_equals_exact(boxes.geometry, 1e-9).all()
    areas = pyogrio.read_dataframe(made, layer="zones")
    assert areas.geometry.normalize().geom_equals_exact(zones.geometry.normalize(), 1e-9).all()


def test_the_full_export_warns_and_the_public_one_says_what_is_withheld(
    trail_path: Path, export: Export, capsys: pytest.CaptureFixture[str]
) -> None:
    export(trail_path, "full", ".geojson")
    assert FULL_CAUTION in capsys.readouterr().out
    export(trail_path, "public", ".kml")
    assert "Withheld for every box" in capsys.readouterr().out


@pytest.mark.parametrize("ending", WRITERS)
def test_public_files_say_what_was_generalised_and_withheld(
    trail_path: Path, export: Export, ending: str
) -> None:
    made = export(trail_path, "public", ending)
    if ending == ".zip":
        with zipfile.ZipFile(made) as archive:
            text = archive.read("eml.xml").decode()
    elif ending == ".csv":
        text = made.with_name(f"{made.name}-metadata.json").read_text(encoding="utf-8")
    else:
        text = made.read_bytes().decode("utf-8", "replace")
    assert GENERALISED in text
    assert "Withheld for every box" in text


@pytest.mark.parametrize("ending", WRITERS)
@pytest.mark.parametrize("whose", ["full", "public"])
def test_an_empty_trail_gives_a_readable_file(
    empty: Path, export: Export, ending: str, whose: str
) -> None:
    made = export(empty, whose, ending)
    assert made.stat().st_size > 0
    if ending == ".gpkg":
        assert faults(made) == ""
        assert counts(made)["boxes" if whose == "full" else "cells"] == 0
    elif ending == ".csv":
        assert rows_of(made) == []
    elif ending == ".geojson":
        assert json.loads(made.read_text(encoding="utf-8"))["features"] == []
    elif ending == ".kml":
        assert ElementTree.parse(made).getroot().tag.endswith("kml")


def test_hostile_text_stays_text(odd: Path, export: Export) -> None:
    kml = export(odd, "full", ".kml")
    root = ElementTree.parse(kml).getroot()
    texts = {element.text for element in root.iter()}
    assert HOSTILE.replace("\x07", "?") in texts
    assert "<script>" not in kml.read_text(encoding="utf-8")
    collection = json.loads(export(odd, "full", ".geojson").read_text(encoding="utf-8"))
    assert collection["features"][0]["properties"]["note"] == HOSTILE
    assert collection["features"][1]["geometry"] is None
    table = rows_of(export(odd, "full", ".csv"))
    assert [row["note"] for row in table] == [HOSTILE, ""]
    assert table[1]["section"] == "line\nbreak, and comma"
    assert (table[1]["lon"], table[1]["lat"]) == ("", "")
    package = export(odd, "full", ".gpkg")
    assert faults(package) == ""
    assert pyogrio.read_dataframe(package, layer="boxes")["name"][0] == HOSTILE


def test_a_file_that_exists_is_never_overwritten(
    trail_path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for name in ("there.gpkg", "there.csv-metadata.json"):
        (tmp_path / name).write_text("mine")
    for name in ("there.gpkg", "there.csv"):
        asked = ["export", str(trail_path), "--public", "-o", str(tmp_path / name)]
        assert main(asked) == 2
        assert "which exists" in capsys.readouterr().err
    assert (tmp_path / "there.gpkg").read_text() == "mine"
    assert (tmp_path / "there.csv-metadata.json").read_text() == "mine"
    assert not (tmp_path / "there.csv").exists()
    assert [path.name for path in tmp_path.iterdir() if path.name.startswith(".")] == []


def refused(capsys: pytest.CaptureFixture[str], *asked: Any) -> tuple[int, str]:
    code = main(["export", *(str(word) for word in asked)])
    return code, capsys.readouterr().err


def test_what_cannot_be_written_is_refused_in_words(
    trail_path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, message = refused(capsys, trail_path, "--full", "-o", tmp_path / "a.shp")
    assert (code, "a file ending in .gpkg, .geojson" in message) == (2, True)
    code, message = refused(capsys, trail_path, "--full", "-o", tmp_path / "a.csv", "--table", "x")
    assert (code, "one of boxes, paths" in message) == (2, True)
    wrong = ("--public", "-o", tmp_path / "a.csv", "--table", "visits")
    code, message = refused(capsys, trail_path, *wrong)
    assert (code, "got 'visits'" in message) == (2, True)
    code, message = refused(
        capsys, trail_path, "--full", "-o", tmp_path / "a.kml", "--table", "nests"
    )
    assert (code, "--table only for" in message) == (2, True)
    code, message = refused(capsys, trail_path, "--full", "-o", tmp_path / "no" / "a.kml")
    assert (code, "cannot be written" in message) == (3, True)
    assert [path for path in tmp_path.iterdir() if path.name.startswith("a.")] == []


def test_an_export_needs_an_audience(trail_path: Path, tmp_path: Path) -> None:
    with pytest.raises(SystemExit, match="2"):
        main(["export", str(trail_path), "-o", str(tmp_path / "a.kml")])
