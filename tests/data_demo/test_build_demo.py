"""The demo trail: whole or not at all, the same each time, with every hard case."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import pyogrio
import pytest

from data_demo.build import build_demo, main
from data_demo.demo import YEARS, Demo, make_demo
from data_demo.hard_cases import HARD_CASES
from data_demo.plain_files import write_plain_files
from layers.errors import Conflict, StorageFull
from layers.trail.store import Trail

TABLES = ("boxes", "paths", "places", "zones")


@pytest.fixture(scope="module")
def demo() -> Demo:
    return make_demo(seed=5)


@pytest.fixture(scope="module")
def trail_path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("demo") / "alderbeck.gpkg"
    build_demo(path, seed=5)
    return path


def content(path: Path) -> dict[str, Any]:
    with Trail.open(path) as trail:
        tables: dict[str, Any] = {name: getattr(trail, name)().to_wkb().to_csv() for name in TABLES}
        return tables | {"visits": trail.visit_rows(current=False), "settings": trail.settings()}


def test_the_trail_holds_all_that_was_made(trail_path: Path, demo: Demo) -> None:
    with Trail.open(trail_path) as trail:
        assert len(trail.boxes()) == 60
        assert len(trail.paths()) == len(demo.reserve.paths)
        assert len(trail.places()) == len(demo.reserve.places)
        assert len(trail.zones()) == len(demo.reserve.zones)
        assert len(trail.visits()) == len(demo.visits()) > 4_000
        assert trail.settings().name == "Alderbeck Reserve"
        assert trail.paths().geometry.has_z.all()


def test_every_visit_is_to_a_box_that_stood(demo: Demo) -> None:
    by_id = {box["box"]: box for box in demo.reserve.boxes}
    for row in demo.visits():
        box = by_id[row["box"]]
        assert box["installed_on"] <= row["seen_on"]
        assert box["removed_on"] is None or row["seen_on"] < box["removed_on"]


def test_four_seasons_end_by_august_2026(demo: Demo) -> None:
    days = [row["seen_on"] for row in demo.visits()]
    assert sorted({day.year for day in days}) == list(YEARS) == [2023, 2024, 2025, 2026]
    assert max(days).isoformat() < "2026-09-01"


def test_every_hard_case_comes_up_once_a_year(demo: Demo) -> None:
    cases = [case for season in demo.seasons for case in season.cases.values()]
    assert {case: cases.count(case) for case in HARD_CASES} == dict.fromkeys(HARD_CASES, 4)


def test_building_twice_gives_the_same_trail(trail_path: Path, tmp_path: Path) -> None:
    build_demo(tmp_path / "again.gpkg", seed=5)
    assert content(tmp_path / "again.gpkg") == content(trail_path)


def test_a_file_that_is_there_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "mine.gpkg"
    path.write_text("my visits", "utf-8")
    with pytest.raises(Conflict, match=r"Expected a new file name, got .*mine\.gpkg"):
        build_demo(path)
    assert path.read_text("utf-8") == "my visits"


def test_a_build_that_fails_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(self: Trail, table: str, rows: object) -> int:
        raise StorageFull(f"no room for {table}")

    monkeypatch.setattr(Trail, "add_rows", full)
    with pytest.raises(StorageFull, match="no room for boxes"):
        build_demo(tmp_path / "demo.gpkg")
    assert list(tmp_path.iterdir()) == []


def test_the_command_builds_and_writes_plain_files(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "new folder" / "demo.gpkg"
    assert main([str(path), "--files", str(tmp_path / "files")]) == 0
    assert path.exists()
    assert sorted(file.name for file in (tmp_path / "files").iterdir()) == [
        "boxes.csv",
        "paths.gpx",
        "visits-2026.csv",
    ]
    assert "Alderbeck Reserve, 2023 to 2026" in capsys.readouterr().out
    assert main([str(path)]) == 1
    assert "Expected a new file name" in capsys.readouterr().err


def read_csv(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_plain_files_hold_boxes_and_the_visits_of_a_year(demo: Demo, tmp_path: Path) -> None:
    boxes, visits, paths = write_plain_files(demo, tmp_path, year=2026)
    replaced = {row["replaces"] for row in demo.visits()}
    kept = [
        row
        for row in demo.visits()
        if row["seen_on"].year == 2026 and row["visit_id"] not in replaced
    ]
    written = read_csv(visits)
    assert len(written) == len(kept)
    assert {row["date"][:4] for row in written} == {"2026"}
    assert {row["eggs"] for row in written} >= {"", "0", "5"}
    assert [float(row["latitude"]) for row in read_csv(boxes)] == [
        box["geometry"].y for box in demo.reserve.boxes
    ]
    tracks = pyogrio.read_dataframe(paths, layer="tracks")
    assert tracks["name"].tolist() == [path["name"] for path in demo.reserve.paths]
    assert paths.read_text("utf-8").count("<ele>") == sum(
        len(path["geometry"].coords) for path in demo.reserve.paths
    )


def test_plain_files_give_times_of_the_local_clock(demo: Demo, tmp_path: Path) -> None:
    visits = read_csv(write_plain_files(demo, tmp_path, year=2026)[1])
    hours = {int(row["time"][:2]) for row in visits if row["time"]}
    assert min(hours) == 7
    assert max(hours) <= 16
