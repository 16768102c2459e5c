"""A damaged trail: what can be read is in the new file, and what cannot is named."""

from __future__ import annotations

import random
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
import shapely

from layers.errors import Conflict, NotATrail
from layers.trail.checking import check_trail
from layers.trail.rescuing import RescuedTable, rescue
from layers.trail.settings import Settings
from layers.trail.store import Trail

PAGE = 4096
VISITS, BOXES = 400, 40


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("whole") / "mill.gpkg"
    with Trail.create(path, Settings("Mill", "Europe/Berlin", visit_every_days=9)) as trail:
        points = [shapely.Point(13 + number / 1000, 52) for number in range(BOXES)]
        trail.add_rows(
            "boxes", [{"box": f"A{n}", "geometry": point} for n, point in enumerate(points)]
        )
        visits = [
            {"box": f"A{n % BOXES}", "seen_on": "2026-05-14", "eggs": n % 7, "note": f"{n} " * 60}
            for n in range(VISITS)
        ]
        trail.add_rows("visits", visits)
    return path


def changed(whole: Path, folder: Path, *statements: str) -> Path:
    """A copy that another program wrote to, our triggers out of the way."""
    path = folder / "mill.gpkg"
    path.write_bytes(whole.read_bytes())
    with closing(sqlite3.connect(path)) as connection:
        names = connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
        for (name,) in names.fetchall():
            connection.execute(f"DROP TRIGGER {name}")
        for sql in statements:
            connection.execute(sql)
        connection.commit()
    return path


def with_pages(whole: Path, folder: Path, *pages: int) -> Path:
    """A copy with some pages full of zeros."""
    body = bytearray(whole.read_bytes())
    for page in pages:
        body[(page - 1) * PAGE : page * PAGE] = bytes(PAGE)
    path = folder / "mill.gpkg"
    path.write_bytes(body)
    return path


def leaves(whole: Path, table: str) -> dict[int, list[int]]:
    """Page -> the numbers of the rows on it, by SQLite's own file format (sqlite.org, 1.6)."""
    body = whole.read_bytes()
    with closing(sqlite3.connect(whole)) as connection:
        ((root,),) = connection.execute(
            "SELECT rootpage FROM sqlite_master WHERE name = ?", (table,)
        ).fetchall()

    def varint(at: int) -> tuple[int, int]:
        value = 0
        for used in range(1, 9):
            byte = body[at + used - 1]
            value = value << 7 | byte & 127
            if byte < 128:
                return value, at + used
        return value << 8 | body[at + 8], at + 9

    found: dict[int, list[int]] = {}

    def visit(page: int) -> None:
        begin = (page - 1) * PAGE
        kind = body[begin]
        cells = int.from_bytes(body[begin + 3 : begin + 5])
        header = 8 if kind == 13 else 12
        starts = [begin + header + 2 * number for number in range(cells)]
        offsets = [begin + int.from_bytes(body[at : at + 2]) for at in starts]
        if kind == 13:
            found[page] = [varint(varint(at)[1])[0] for at in offsets]
            return
        children = [int.from_bytes(body[at : at + 4]) for at in offsets]
        for child in (*children, int.from_bytes(body[begin + 8 : begin + 12])):
            visit(child)

    visit(root)
    return found


def rescued(path: Path) -> tuple[dict[str, RescuedTable], Path]:
    before = path.read_bytes()
    target = path.with_name("rescued.gpkg")
    found = {one.table: one for one in rescue(path, target)}
    assert path.read_bytes() == before
    with Trail.open(target) as trail:
        faults = {one.what for one in check_trail(trail) if one.severity == "fault"}
    # A box whose row was lost waits for its place.
    assert faults <= {"has no place"}
    return found, target


def rows_of(path: Path, table: str) -> dict[int, tuple[object, ...]]:
    with closing(sqlite3.connect(path)) as connection:
        return {row[0]: row for row in connection.execute(f"SELECT * FROM {table}")}


def test_of_a_sound_trail_everything_comes_out(whole: Path, tmp_path: Path) -> None:
    found, target = rescued(changed(whole, tmp_path))
    assert {name: one.lost for name, one in found.items() if one.lost} == {}
    for table in ("boxes", "visits"):
        assert rows_of(target, table) == rows_of(whole, table)
    with Trail.open(target) as trail, Trail.open(whole) as was:
        assert trail.settings() == was.settings()
        assert trail.identity() == was.identity()


def test_a_trail_whose_ids_are_lost_gets_new_ones_and_that_is_reported(
    whole: Path, tmp_path: Path
) -> None:
    damaged = changed(whole, tmp_path, "UPDATE trail SET secret_id = 'gone'")
    found, target = rescued(damaged)
    assert found["settings"].lost == (
        "The trail's id could not be read: it and its nests have new ones in what is exported.",
    )
    with Trail.open(target) as trail, Trail.open(whole) as was:
        assert trail.identity() != was.identity()
        assert trail.settings() == was.settings()


@pytest.mark.parametrize("at", [0, 3, -1])
def test_a_lost_page_costs_its_own_rows_and_they_are_named(
    whole: Path, tmp_path: Path, at: int
) -> None:
    pages = leaves(whole, "visits")
    assert len(pages) > 6
    page = list(pages)[at]
    gone = pages[page]
    found, target = rescued(with_pages(whole, tmp_path, page))
    assert found["visits"].lost == (f"Rows {gone[0]} to {gone[-1]} could not be read.",)
    expected = {n: row for n, row in rows_of(whole, "visits").items() if n not in gone}
    assert rows_of(target, "visits") == expected
    assert found["visits"].rows == len(expected)


def test_visits_to_a_box_whose_row_is_lost_keep_a_box(whole: Path, tmp_path: Path) -> None:
    page, gone = list(leaves(whole, "boxes").items())[-1]
    found, target = rescued(with_pages(whole, tmp_path, page))
    assert found["visits"].lost == ()
    assert found["boxes"].rows == BOXES
    assert f"A{gone[0] - 1}" in found["boxes"].lost[-1]
    assert {row[2] for row in rows_of(target, "boxes").values()} == {f"A{n}" for n in range(BOXES)}


def test_rows_that_no_trail_can_hold_are_left_out_by_name(whole: Path, tmp_path: Path) -> None:
    path = changed(
        whole,
        tmp_path,
        "UPDATE visits SET seen_on = 'x' WHERE fid = 3",
        "UPDATE visits SET eggs = 'many' WHERE fid = 5",
        "UPDATE visits SET note = CAST(x'41fffe' AS TEXT) WHERE fid = 7",
        "UPDATE trail SET timezone = 'Nowhere/At_All'",
    )
    found, target = rescued(path)
    lost = found["visits"].lost
    assert found["visits"].rows == VISITS - 2
    assert lost[0].startswith("Row 3 was left out: seen_on of a visit is a day like")
    assert lost[1].startswith("Row 5 was left out: eggs of a visit is a whole number")
    assert lost[2].startswith("Rows 7 held letters")
    assert len(lost) == 3
    assert found["settings"].lost == ("The setting timezone could not be read: set it again.",)
    with Trail.open(target) as trail:
        assert trail.settings().visit_every_days == 9


def test_what_is_only_in_the_log_comes_out_too(whole: Path, tmp_path: Path) -> None:
    path = tmp_path / "mill.gpkg"
    path.write_bytes(whole.read_bytes())
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("PRAGMA wal_autocheckpoint = 0")
        connection.execute("INSERT INTO visits (box, seen_on) VALUES ('A1', '2026-05-20')")
        connection.commit()
        found, _ = rescued(path)
    assert found["visits"].rows == VISITS + 1


def test_nothing_of_no_trail_and_never_over_a_file(whole: Path, tmp_path: Path) -> None:
    path = tmp_path / "mill.gpkg"
    path.write_bytes(b"not a trail at all" * 1000)
    with pytest.raises(NotATrail, match=r"Nothing of mill\.gpkg could be rescued"):
        rescue(path, tmp_path / "new.gpkg")
    assert not (tmp_path / "new.gpkg").exists()
    with pytest.raises(Conflict):
        rescue(whole, path)


@pytest.mark.parametrize("seed", [*range(6), pytest.param(None, marks=pytest.mark.long)])
def test_whatever_the_damage_no_row_comes_out_that_was_not_there(
    whole: Path, tmp_path: Path, seed: int | None
) -> None:
    was = rows_of(whole, "visits")
    for one in range(100, 400) if seed is None else [seed]:
        rng, body = random.Random(one), bytearray(whole.read_bytes())
        for _ in range(rng.choice((1, 3, 8))):
            at = rng.randrange(1, len(body) // PAGE) * PAGE
            if rng.random() < 0.5:
                body[at : at + PAGE] = bytes(PAGE)
            else:
                other = rng.randrange(1, len(body) // PAGE) * PAGE
                body[at : at + PAGE] = body[other : other + PAGE]
        folder = tmp_path / str(one)
        folder.mkdir()
        path = folder / "mill.gpkg"
        path.write_bytes(body)
        try:
            _, target = rescued(path)
        except NotATrail:
            continue
        strange = [row for n, row in rows_of(target, "visits").items() if was.get(n) != row]
        assert strange == []
