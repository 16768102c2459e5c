"""CSV of several trails can be put together: each row names its trail, each column its meaning."""

from __future__ import annotations

import csv
import json
import uuid
from pathlib import Path
from typing import Any

import pytest

from layers.trail.store import Trail
from server.command import main
from tests.server.small_trail import at, make_trail

KEYS = {
    "boxes": ["trail", "box"],
    "visits": ["trail", "visit_id"],
    "nests": ["trail", "nest"],
}
CORE = {"name", "titles", "datatype", "required", "propertyUrl"}
"""Properties of a column in "Metadata Vocabulary for Tabular Data", W3C 2015, 5.6 and 5.7; any
other has the prefix of a vocabulary that its JSON-LD context knows (from memory: dc, schema)."""


def exported(trail: Path, table: str, *, whose: str = "full") -> tuple[list[dict[str, str]], Any]:
    path = trail.with_name(f"{trail.stem}-{whose}-{table}.csv")
    arguments = ["export", str(trail), f"--{whose}", "--table", table, "-o", str(path)]
    assert main([*arguments, "--on", "2026-07-01"]) == 0
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    return rows, json.loads(path.with_name(f"{path.name}-metadata.json").read_text())


@pytest.fixture
def trails(tmp_path: Path) -> list[Path]:
    visits = [
        {"box": "A1", "seen_on": "2026-05-01", "eggs": 3, "species": "eastern bluebird"},
        {"box": "A1", "seen_on": "2026-05-08", "eggs": 5, "species": "eastern bluebird"},
    ]
    made = [make_trail(tmp_path / f"{name}.gpkg", boxes={"A1": at(1)}) for name in "ab"]
    for path in made:
        with Trail.open(path) as trail:
            trail.add_rows("visits", visits)
    return made


@pytest.mark.parametrize("table", KEYS)
def test_rows_of_two_trails_share_no_key(trails: list[Path], table: str) -> None:
    keys = set()
    size = 0
    for path in trails:
        rows, described = exported(path, table)
        schema = described["tableSchema"]
        assert schema["primaryKey"] == KEYS[table]
        assert [column["name"] for column in schema["columns"]] == list(rows[0])
        assert {row["timezone"] for row in rows} == {"America/New_York"}
        keys |= {tuple(row[name] for name in schema["primaryKey"]) for row in rows}
        size += len(rows)
    assert len(keys) == size > 0
    assert {uuid.UUID(trail).version for trail, *_ in keys} == {4}


def test_the_dictionary_has_units_ranges_and_standard_terms(trails: list[Path]) -> None:
    _, described = exported(trails[0], "boxes")
    columns = {column["name"]: column for column in described["tableSchema"]["columns"]}
    assert columns["hole_mm"]["schema:unitText"] == "mm"
    assert columns["hole_mm"]["datatype"] == {"base": "number", "minimum": 10, "maximum": 400}
    assert columns["box"]["required"] is True
    assert columns["box"]["propertyUrl"] == "http://rs.tdwg.org/dwc/terms/locationID"
    assert described["@context"] == "http://www.w3.org/ns/csvw"
    for column in columns.values():
        others = column.keys() - CORE
        assert {name.partition(":")[0] for name in others} <= {"dc", "schema"}, column


def test_public_tables_name_neither_time_zone_nor_the_teams_id(trails: list[Path]) -> None:
    rows, described = exported(trails[0], "cells", whose="public")
    with Trail.open(trails[0]) as trail:
        identity = trail.identity()
    assert described["tableSchema"]["primaryKey"] == ["trail", "cell"]
    (named,) = {row["trail"] for row in rows}
    assert uuid.UUID(named) not in (identity.trail_id, identity.secret_id)
    assert "timezone" not in rows[0]
