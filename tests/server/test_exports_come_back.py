"""What Boxround exports for the team is imported into another trail as it was."""

from __future__ import annotations

import zipfile
from datetime import date
from pathlib import Path
from typing import Any

import pytest
import shapely

from layers.errors import Refused
from layers.nesting.guide import standard_guide
from layers.trail.exporting.harmless import harmless, restored
from layers.trail.importing import ImportResult, Kind, import_file
from layers.trail.settings import Settings
from layers.trail.store import Trail
from server.command import main
from tests.server.small_trail import at, make_trail

TODAY = date(2026, 7, 1)
VISITS = """box,date,time,observer,species,eggs,note,Temp F
A1,2026-05-14,10:20,Ann,eastern bluebird,5,"=1+1, two\nlines",61
'-2,2026-05-14,,Bea,tree swallow,0,''=x,
A1,2026-05-21,,Bea,eastern bluebird,4,,62
"""


def taken_in(kind: Kind, source: Path, trail: Trail) -> ImportResult:
    def species(name: str) -> str:
        return standard_guide().find(name).common

    return import_file(kind, source, trail, today=TODAY, species=species)


def visits(trail: Trail) -> list[dict[str, Any]]:
    left_out = ("import_id", "replaces")
    return [{k: v for k, v in row.items() if k not in left_out} for row in trail.visit_rows()]


@pytest.fixture(scope="module")
def original(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("original")
    path = make_trail(folder / "a.gpkg", boxes={"A1": at(1), "-2": at(2), "B3": None})
    source = folder / "visits.csv"
    source.write_text(VISITS, encoding="utf-8")
    with Trail.open(path) as trail:
        taken_in("visits", source, trail)
        first = trail.visit_rows("A1")[0]
        correction = dict(first, visit_id="0b6f4c1e-0000-4000-8000-000000000001", eggs=6)
        trail.add_rows("visits", [correction | {"replaces": first["visit_id"]}])
    return path


@pytest.mark.parametrize("name", ["visits.csv", "all.gpkg", "archive.zip"])
def test_visits_of_an_export_come_back_whole(original: Path, tmp_path: Path, name: str) -> None:
    export = tmp_path / name
    table = ["--table", "visits"] if export.suffix == ".csv" else []
    assert main(["export", str(original), "--full", "-o", str(export), *table]) == 0
    other = make_trail(tmp_path / "b.gpkg", boxes={"A1": at(1), "-2": at(2)})
    with Trail.open(other) as trail, Trail.open(original) as whole:
        result = taken_in("visits", export, trail)
        assert (result.added, result.own) == (3, ())
        assert any("not in the file" in note for note in result.notes)
        assert visits(trail) == visits(whole)
        assert taken_in("visits", export, trail).added == 0
        # Into the trail it came from it adds nothing.
        assert taken_in("visits", export, whole).already_there == 3


@pytest.mark.parametrize("name", ["boxes.csv", "all.gpkg", "archive.zip"])
def test_boxes_of_an_export_come_back_whole(tmp_path: Path, name: str) -> None:
    stored = {"box": "-2", "name": "=Oak", "hole_mm": 38.0, "guards": "cone", "geometry": at(2)}
    original, export = tmp_path / "a.gpkg", tmp_path / name
    with Trail.create(original, Settings("Small", "America/New_York")) as trail:
        trail.add_rows("boxes", [stored, {"box": "B3", "note": "@home", "geometry": at(3)}])
    table = ["--table", "boxes"] if export.suffix == ".csv" else []
    assert main(["export", str(original), "--full", "-o", str(export), *table]) == 0
    with (
        Trail.create(tmp_path / "b.gpkg", Settings("Small", "America/New_York")) as trail,
        Trail.open(original) as whole,
    ):
        assert taken_in("boxes", export, trail).added == 2
        assert trail.boxes().equals(whole.boxes())


def test_paths_of_an_export_come_back_whole(original: Path, tmp_path: Path) -> None:
    export = tmp_path / "paths.csv"
    assert main(["export", str(original), "--full", "-o", str(export), "--table", "paths"]) == 0
    with (
        Trail.create(tmp_path / "b.gpkg", Settings("Small", "America/New_York")) as trail,
        Trail.open(original) as whole,
    ):
        assert taken_in("paths", export, trail).added == 1
        assert shapely.equals(trail.paths().geometry, whole.paths().geometry).all()


def test_an_archive_of_others_is_refused_in_a_sentence(original: Path, tmp_path: Path) -> None:
    source = tmp_path / "archive.zip"
    with zipfile.ZipFile(source, "w") as archive:
        archive.writestr("meta.xml", "<archive/>")
        archive.writestr("event.csv", "id,eventDate\n1,2026-05-14\n")
    with Trail.open(original) as trail, pytest.raises(Refused, match="that Boxround wrote"):
        taken_in("visits", source, trail)


@pytest.mark.parametrize("text", ["=1", "'=1", "''-x", "'quoted'", "plain", "\tx", "'"])
def test_an_apostrophe_for_spreadsheets_is_taken_off_again(text: str) -> None:
    assert restored(harmless(text)) == text
