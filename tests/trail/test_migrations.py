"""Files of older formats: kept in `formats`, made by the program of their time."""

from __future__ import annotations

import os
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from layers.errors import BoxroundError, NotATrail, StorageFull
from layers.trail import whole_files
from layers.trail.checking import check_trail
from layers.trail.identity import Identity
from layers.trail.migrations import STEPS, TODAY
from layers.trail.migrations import upgrade as upgrading
from layers.trail.migrations.upgrade import readable
from layers.trail.schema import FORMAT, TABLES
from layers.trail.store import Trail
from layers.trail.visit_id import content_id
from layers.trail.words import NEST_OF_FORMAT_1
from server.command import main
from tests.trail.validator import faults, gis_counts

FORMATS = Path(__file__).parent / "formats"
NOBODY = 65534
"""A user of any Linux system who owns nothing."""


@pytest.fixture
def old(tmp_path: Path) -> Path:
    """A trail of format 1 with own words, a correction, odd rows and a column of a GIS."""
    return Path(shutil.copy(FORMATS / "format-1.gpkg", tmp_path / "mill.gpkg"))


def contents(path: Path, table: str) -> list[dict[str, Any]]:
    with closing(sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)) as connection:
        connection.row_factory = sqlite3.Row
        return [dict(row) for row in connection.execute(f"SELECT * FROM {table} ORDER BY fid")]


def test_there_is_a_step_and_a_kept_file_for_every_older_format() -> None:
    assert set(STEPS) == set(range(2, TODAY + 1))
    for number in range(1, TODAY):
        kept = contents(FORMATS / f"format-{number}.gpkg", "trail")
        assert kept[0]["format"] == f"boxround {number}"


def test_an_older_file_is_brought_up_at_opening_and_says_the_same(old: Path) -> None:
    before = {table: contents(old, table) for table in TABLES}
    with Trail.open(old) as trail:
        visits = trail.visits()
        assert trail.settings().words("signs")[-2:] == ("moss", "frog")
        assert trail.changes_since(before["trail"][0]["version"]).tables >= {"trail"}
        found = {str(finding) for finding in check_trail(trail)}
    # What the old program did not understand is not understood now, and still there.
    assert visits.nest.tolist() == [1, 2, 1, 3, 3, 0, -1, 2]
    assert visits.eggs.tolist() == [0, 0, 0, 5, -1, 0, -1, -1]
    assert any("'Partial' in 1 rows" in finding for finding in found)
    assert any("has eggs 99" in finding for finding in found)
    for table in TABLES:
        for was, row in zip(before[table], contents(old, table), strict=True):
            expected = dict.fromkeys(TABLES[table].columns) | was
            if table == "trail":
                ids = Identity.from_row(row).as_row()
                expected |= {"format": FORMAT, "version": 26, **ids}
            if table == "visits":
                expected["nest"] = NEST_OF_FORMAT_1.get(was["nest"], was["nest"])
            assert row == expected
    assert before["boxes"][0]["painted"] == "green"
    assert faults(old) == ""


def test_visits_keep_the_ids_that_their_content_gave(old: Path) -> None:
    with Trail.open(old) as trail:
        rows = trail.visit_rows(current=False)
    made = [row["visit_id"] for row in rows if row["visit_id"][14] == "5"]
    assert made == [content_id(row) for row in rows if row["visit_id"][14] == "5"]
    assert len(made) == 6


def test_the_file_guards_its_visits_after_that(old: Path) -> None:
    with Trail.open(old) as trail, closing(sqlite3.connect(trail.path)) as gis:
        for sql in (
            "UPDATE visits SET eggs = 1",
            "DELETE FROM visits",
            "INSERT INTO visits (box, seen_on, eggs) VALUES ('A1', '2026-05-14', 99)",
        ):
            with pytest.raises(sqlite3.IntegrityError, match=r"of a visit|a visit is never"):
                gis.execute(sql)
            gis.rollback()


def test_the_backup_is_the_file_as_it_was(old: Path) -> None:
    before = {table: contents(old, table) for table in TABLES}
    old.chmod(0o600)
    for _ in range(2):
        Trail.open(old).close()
    assert sorted(path.name for path in old.parent.iterdir()) == ["mill.format-1.gpkg", "mill.gpkg"]
    backup = old.with_name("mill.format-1.gpkg")
    assert {table: contents(backup, table) for table in TABLES} == before
    assert backup.stat().st_mode & 0o777 == 0o600
    assert faults(backup) == ""


def test_a_backup_takes_the_place_of_no_other_file(old: Path) -> None:
    taken = old.with_name("mill.format-1.gpkg")
    taken.write_bytes(b"mine")
    Trail.open(old).close()
    assert taken.read_bytes() == b"mine"
    assert old.with_name("mill.format-1-2.gpkg").exists()


@pytest.mark.parametrize("broken", ["verdict_of", "free_name", "_change"])
def test_what_fails_on_the_way_changes_nothing(
    old: Path, broken: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = old.read_bytes()
    wrong: dict[str, Any] = {
        "verdict_of": lambda path: "row 7 missing from index",
        "free_name": lambda path, mark: path.parent / "no such folder" / path.name,
        "_change": lambda *args: (_ for _ in ()).throw(sqlite3.OperationalError("disk I/O error")),
    }
    room = whole_files if broken == "verdict_of" else upgrading
    monkeypatch.setattr(room, broken, wrong[broken])
    with pytest.raises(StorageFull, match="of format 1 and has to be brought to format 2"):
        Trail.open(old)
    assert contents(old, "trail")[0]["format"] == "boxround 1"
    assert len(old.read_bytes()) == len(before)
    assert not list(old.parent.glob(".boxround-*"))
    monkeypatch.undo()
    with Trail.open(old) as trail:
        assert len(trail.visit_rows(current=False)) == 8


def test_a_newer_format_is_refused_in_a_sentence(old: Path) -> None:
    with closing(sqlite3.connect(old)) as connection:
        connection.execute("DROP TRIGGER boxround_trail_update")
        connection.execute("UPDATE trail SET format = 'boxround 3'")
        connection.commit()
    before = old.read_bytes()
    with pytest.raises(NotATrail, match=r"format 3, made by a newer Boxround.*up to 2"):
        Trail.open(old)
    with pytest.raises(NotATrail, match="made by a newer"), readable(old):
        pass
    assert old.read_bytes()[100:] == before[100:]


@pytest.fixture
def locked(old: Path) -> Iterator[Path]:
    """The older file where this process can read it and change nothing."""
    # All modules that are needed are imported before the other user cannot read them.
    assert main(["backup", str(old), str(old.with_name("copy.gpkg"))]) == 0
    assert main(["export", str(old), "--full", "-o", str(old.with_name("all.gpkg"))]) == 0
    table = str(old.with_name("visits.csv"))
    assert main(["export", str(old), "--full", "--table", "visits", "-o", table]) == 0
    gis_counts(old)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(shutil.copy(old, folder))
        path.chmod(0o444)
        Path(folder).chmod(0o555)
        root = os.geteuid() == 0
        if root:
            os.seteuid(NOBODY)
        yield path
        if root:
            os.seteuid(0)
        Path(folder).chmod(0o755)


def test_backup_and_full_export_work_on_a_file_that_cannot_be_written(locked: Path) -> None:
    before = locked.read_bytes()
    with pytest.raises(BoxroundError, match=r"mill\.gpkg"):
        Trail.open(locked)
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder)
        assert main(["backup", str(locked), str(out / "copy.gpkg")]) == 0
        assert main(["export", str(locked), "--full", "-o", str(out / "all.gpkg")]) == 0
        table = str(out / "visits.csv")
        assert main(["export", str(locked), "--full", "--table", "visits", "-o", table]) == 0
        assert contents(out / "copy.gpkg", "visits") == contents(locked, "visits")
        assert contents(out / "copy.gpkg", "trail")[0]["format"] == "boxround 1"
        assert "loose material" in Path(table).read_text(encoding="utf-8")
        assert gis_counts(out / "copy.gpkg")["visits"] == 8
    assert locked.read_bytes() == before
    assert sorted(path.name for path in locked.parent.iterdir()) == ["mill.gpkg"]


def test_backup_and_export_leave_an_older_file_as_it_is(old: Path, tmp_path: Path) -> None:
    before = old.read_bytes()
    assert main(["backup", str(old), str(tmp_path / "copy.gpkg")]) == 0
    assert main(["export", str(old), "--full", "-o", str(tmp_path / "all.geojson")]) == 0
    assert old.read_bytes() == before


def test_a_column_that_a_file_lacks_is_put_in(old: Path) -> None:
    Trail.open(old).close()
    with closing(sqlite3.connect(old)) as connection:
        connection.execute("ALTER TABLE paths DROP COLUMN level")
        connection.commit()
    with Trail.open(old) as trail:
        assert trail.paths()["level"].isna().all()
        assert [f for f in check_trail(trail) if f.where == "file"] == []
    assert faults(old) == ""
