"""`check` finds each thing that can be wrong, and nothing in a sound trail."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest
import shapely

from layers.trail.checking import check_trail
from layers.trail.store import Trail


def said(trail: Trail) -> str:
    return "\n".join(str(finding) for finding in check_trail(trail))


def test_a_sound_trail_has_no_findings(trail: Trail) -> None:
    trail.add_rows("visits", [{"box": "A1", "seen_on": "2026-05-14", "signs": "wet;ants"}])
    assert said(trail) == ""


@pytest.mark.parametrize(
    ("sql", "expected"),
    [
        (
            "INSERT INTO visits (box, seen_on, visit_id) VALUES ('Z9', '2026-05-14', 'x')",
            "fault: visits of Z9: 1 visits to a box that does not exist",
        ),
        (
            "INSERT INTO visits (box, seen_on, replaces) VALUES ('A1', '2026-05-14', 'gone')",
            "replaces gone, which does not exist",
        ),
        (
            "INSERT INTO visits (box, seen_on, visit_id, replaces) VALUES"
            " ('A1', '2026-05-14', 'x', NULL), ('A1', '2026-05-14', 'y', 'x'),"
            " ('A1', '2026-05-14', 'z', 'x')",
            "look: visit x: is replaced 2 times",
        ),
        (
            "INSERT INTO visits (box, seen_on, visit_id, replaces) VALUES"
            " ('A1', '2026-05-14', 'x', NULL), ('B1', '2026-05-14', 'y', 'x')",
            "look: visit y: moves a visit from box A1 to box B1",
        ),
        (
            "INSERT INTO visits (box, seen_on, signs) VALUES ('A1', '2026-05-14', 'wet;glitter')",
            "fault: table visits, column signs: 'glitter' in 1 rows is not one of flattened",
        ),
        (
            "UPDATE boxes SET pair = 'Q7' WHERE box = 'A1'",
            "is paired with Q7, which does not exist",
        ),
        (
            "UPDATE boxes SET installed_on = '2026-05-01', removed_on = '2025-05-01'",
            "removed on 2025-05-01, before it stood on 2026-05-01",
        ),
        (
            "UPDATE boxes SET installed_on = 'x' WHERE box = 'A1'",
            "fault: box A1: has installed_on 'x', expected a day like 2026-05-14",
        ),
        (
            "UPDATE boxes SET installed_on = 7, removed_on = '2026-05-01' WHERE box = 'A1'",
            "fault: box A1: has installed_on 7, expected a day like 2026-05-14",
        ),
        ("UPDATE boxes SET geom = NULL WHERE box = 'A1'", "fault: boxes row 1: has no place"),
        (
            "UPDATE boxes SET geom = (SELECT geom FROM boxes WHERE box = 'A2') WHERE box = 'A1'",
            "look: boxes A1, A2: stand 0.0 m apart and are not a pair",
        ),
        (
            "UPDATE boxes SET box = 'a 2' WHERE box = 'A1'",
            "ids differ only in case, spaces, signs or leading zeros",
        ),
        ("UPDATE trail SET timezone = 'Mars'", "fault: table trail: Expected a time zone name"),
        ("DELETE FROM rtree_boxes_geom", "3 rows are not in the spatial index"),
        ("DROP TRIGGER boxround_visits_insert", "trigger boxround_visits_insert is missing"),
        (
            "UPDATE gpkg_contents SET table_name = 'areas' WHERE table_name = 'visits'",
            "table visits is not registered in gpkg_contents",
        ),
        ("ALTER TABLE paths DROP COLUMN level", "column level is missing from table paths"),
        ("PRAGMA user_version = 10200", "user_version is 10200, a GeoPackage 1.4 has 10400"),
    ],
)
def test_each_wrong_thing_is_found(trail: Trail, sql: str, expected: str) -> None:
    with trail.write() as connection:
        connection.execute(sql)
    assert expected in said(trail)


@pytest.mark.parametrize(
    ("day", "eggs", "expected"),
    [
        ("14/5/2026", 3, "has the day '14/5/2026', expected one like 2026-05-14"),
        ("2026-04-31", 3, "has the day '2026-04-31', expected one like 2026-05-14"),
        ("2026-05-14", 99, "has eggs 99, expected a whole number from 0 to 40"),
        ("2026-05-14", 2.5, "has eggs 2.5, expected a whole number from 0 to 40"),
    ],
)
def test_what_no_one_can_read_is_found_in_a_file_from_before_it_was_refused(
    trail: Trail, day: str, eggs: float, expected: str
) -> None:
    with trail.write() as connection:
        connection.execute("DROP TRIGGER boxround_visits_sound")
        connection.execute(
            "INSERT INTO visits (box, seen_on, eggs) VALUES ('A1', ?, ?)", (day, eggs)
        )
    with Trail.open(trail.path) as again:
        assert expected in said(again)


def test_a_pair_may_share_a_place(trail: Trail) -> None:
    with trail.write() as connection:
        connection.execute(
            "UPDATE boxes SET pair = 'A2', geom = (SELECT geom FROM boxes WHERE box = 'A2')"
            " WHERE box = 'A1'"
        )
    assert said(trail) == ""


def test_a_zone_that_crosses_itself_is_found(trail: Trail) -> None:
    bow = shapely.Polygon([(0, 0), (1, 1), (1, 0), (0, 1)])
    trail.add_rows("zones", [{"name": "bow", "kind": "habitat", "geometry": bow}])
    assert "Self-intersection" in said(trail)


@pytest.mark.parametrize(
    ("vertex", "found"),
    [((0, 0), "0 among others"), ((-70, 42.6), "km off the line"), ((-77.9, 42.6, -9999), "-9999")],
)
def test_vertices_that_no_walk_has_are_found(
    trail: Trail, vertex: tuple[float, ...], found: str
) -> None:
    line = [(-77.9, 42.6, 300)[: len(vertex)], vertex, (-77.901, 42.6, 300)[: len(vertex)]]
    trail.add_rows("paths", [{"name": "Ride", "geometry": shapely.LineString(line)}])
    (one,) = check_trail(trail)
    assert one.severity == "look" and found in one.what


def test_damage_to_the_file_is_found(trail: Trail) -> None:
    with trail.write() as connection:
        connection.executemany(
            "INSERT INTO visits (box, seen_on, note) VALUES ('A1', '2026-05-14', ?)",
            [("x" * 500,)] * 500,
        )
    copy = trail.path.with_name("damaged.gpkg")
    trail.snapshot(copy)
    _overwrite_a_page(copy)
    with Trail.open(copy) as damaged:
        assert "fault: file: SQLite finds damage" in said(damaged)


def _overwrite_a_page(path: Path) -> None:
    connection = sqlite3.connect(path)
    (root,) = connection.execute(
        "SELECT rootpage FROM sqlite_master WHERE name = 'visits_by_box'"
    ).fetchone()
    (size,) = connection.execute("PRAGMA page_size").fetchone()
    connection.close()
    content = bytearray(path.read_bytes())
    content[root * size - 300 : root * size] = b"\xff" * 300
    path.write_bytes(content)
