"""Backups in a folder: whole, dated, and thinned as time goes by."""

from __future__ import annotations

import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from layers.errors import BadValue
from layers.trail.backups import back_up_into, backups_of, superseded
from layers.trail.store import Trail
from layers.trail.whole_files import PREFIX
from server.command import main
from server.web.authentication.side_file import people_path

NOON = datetime(2026, 6, 3, 12, tzinfo=UTC)


def test_a_backup_a_day_and_then_one_a_month_are_kept() -> None:
    days = [NOON - timedelta(days=back) for back in range(4000)]
    made = {Path(f"t.{day:%Y-%m-%dT%H%M%SZ}.gpkg"): day for day in days}
    removed = set(superseded(made, keep_days=30))
    kept = [day for path, day in made.items() if path not in removed]
    assert kept[:30] == days[:30]
    assert len(kept) == 30 + 120 - 2
    assert len({f"{day:%Y-%m}" for day in kept}) == 120
    assert all((day + timedelta(days=1)).day == 1 for day in kept[30:])


def test_a_backup_goes_into_the_folder_and_takes_away_only_its_own_kind(
    trail: Trail, tmp_path: Path
) -> None:
    folder = tmp_path / "backups"
    for back in (3, 2, 1, 0):
        back_up_into(trail, folder, now=NOON - timedelta(days=back), keep_days=None)
    mine = folder / "trail.mine.gpkg"
    mine.write_bytes(b"mine")
    back_up_into(trail, folder, now=NOON, keep_days=2)
    left = backups_of(folder, "trail")
    assert [f"{moment:%m-%d}" for moment in left.values()] == ["06-03", "06-02", "05-31"]
    assert mine.read_bytes() == b"mine"
    with Trail.open(next(iter(left))) as copy:
        assert copy.box_ids() == trail.box_ids()
    with pytest.raises(BadValue, match="at least 1 day"):
        back_up_into(trail, folder, now=NOON, keep_days=0)


def test_the_command_copies_the_team_with_its_option(
    trail: Trail, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = str(trail.path)
    assert main(["invite", path, "--name", "Wren", "--role", "keeper"]) == 0
    folder = tmp_path / "backups"
    assert main(["backup", path, str(folder), "--keep", "30", "--with-people"]) == 0
    (copy,) = backups_of(folder, "trail")
    assert f"Wrote {copy}" in capsys.readouterr().out
    with closing(sqlite3.connect(people_path(copy))) as people:
        assert people.execute("SELECT name FROM people").fetchall() == [("Wren",)]
    assert people_path(copy).stat().st_mode & 0o777 == 0o600
    assert copy.stat().st_mode & 0o777 == 0o600
    assert main(["backup", path, str(tmp_path / "one.gpkg")]) == 0
    assert (tmp_path / "one.gpkg").exists()


BACKS_UP = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from layers.trail.backups import back_up_into
from layers.trail.store import Trail
with Trail.open(Path(sys.argv[1])) as trail:
    print("begun", flush=True)
    while True:
        back_up_into(trail, Path(sys.argv[2]), now=datetime.now(UTC), keep_days=2)
"""


@pytest.mark.parametrize("kills", [3, pytest.param(40, marks=pytest.mark.long)])
def test_a_backup_that_is_killed_leaves_no_half_file_under_a_final_name(
    trail: Trail, tmp_path: Path, kills: int
) -> None:
    folder = tmp_path / "backups"
    for number in range(kills):
        process = subprocess.Popen(
            [sys.executable, "-c", BACKS_UP, trail.path, folder], stdout=subprocess.PIPE, text=True
        )
        assert process.stdout is not None
        assert process.stdout.readline() == "begun\n"
        with pytest.raises(subprocess.TimeoutExpired):
            process.wait(0.02 + 0.03 * (number % 10))
        process.kill()
        process.communicate()
        for copy in folder.glob("*.gpkg"):
            with Trail.open(copy) as opened:
                assert opened.rows("PRAGMA integrity_check") == [("ok",)]
        for left in folder.glob(f"{PREFIX}*"):
            shutil.rmtree(left)
