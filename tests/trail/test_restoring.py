"""A backup put in the place of a trail, and the file that is whole by itself."""

from __future__ import annotations

import datetime as dt
import os
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

from layers.errors import BadValue, Conflict, NotATrail, TrailBusy
from layers.trail.connection import log_bytes, log_path
from layers.trail.restoring import foreign_log, restore
from layers.trail.store import Trail
from layers.trail.whole_files import PREFIX, put_in_place
from tests.server.conftest import locked
from tests.trail.validator import faults


def add_visit(trail: Trail, name: str) -> None:
    trail.add_rows("visits", [{"box": "A1", "seen_on": dt.date(2026, 5, 14), "visit_id": name}])


def ids(path: Path) -> list[str]:
    with Trail.open(path) as trail:
        return [row["visit_id"] for row in trail.visit_rows()]


def ids_of_file_alone(path: Path) -> list[str]:
    """What a copy of the file holds that leaves what lies beside it behind."""
    copy = path.with_name("alone.gpkg")
    # In a process of its own: opened here, the file would lose this process's locks.
    subprocess.run(["cp", path, copy], check=True)
    return ids(copy)


@pytest.fixture
def backup(trail: Trail) -> Path:
    """A backup with the visit `first`; the trail then gets `second` too."""
    add_visit(trail, "first")
    target = trail.path.with_name("backup.gpkg")
    trail.snapshot(target)
    add_visit(trail, "second")
    return target


def test_the_file_alone_holds_a_visit_as_soon_as_it_is_acknowledged(trail: Trail) -> None:
    for name in ("one", "two"):
        add_visit(trail, name)
        assert name in ids_of_file_alone(trail.path)


@contextmanager
def reading(path: Path) -> Iterator[None]:
    """Another program reads, and goes on seeing the file as it is now."""
    with closing(sqlite3.connect(path, isolation_level=None)) as reader:
        reader.execute("BEGIN")
        reader.execute("SELECT count(*) FROM visits").fetchone()
        yield


def test_a_reader_of_an_older_state_holds_up_no_save(trail: Trail) -> None:
    with reading(trail.path):
        add_visit(trail, "meanwhile")
        assert log_bytes(trail.path) > 0
    add_visit(trail, "after")
    assert ids_of_file_alone(trail.path) == ["meanwhile", "after"]


def test_restored_is_what_the_backup_holds_and_nothing_is_lost(trail: Trail, backup: Path) -> None:
    trail.close()
    done = restore(backup, trail.path)
    assert ids(trail.path) == ["first"]
    assert (done.visits, done.was_damaged) == (1, False)
    assert done.aside == trail.path.with_name("trail.before-restore.gpkg")
    assert ids(done.aside) == ["first", "second"]
    assert faults(trail.path) == ""
    again = restore(done.aside, trail.path)
    assert again.aside == trail.path.with_name("trail.before-restore-2.gpkg")
    assert ids(trail.path) == ["first", "second"]
    assert log_bytes(trail.path) == 0


def test_who_has_the_trail_open_sees_what_was_restored_and_no_version_comes_twice(
    trail: Trail, backup: Path
) -> None:
    before = trail.version()
    restore(backup, trail.path)
    assert [row["visit_id"] for row in trail.visit_rows()] == ["first"]
    assert trail.changes_since(before).everything
    assert trail.version() > before + 100
    add_visit(trail, "third")
    assert ids_of_file_alone(trail.path) == ["first", "third"]


@pytest.mark.parametrize("damage", ["head", "middle", "log of another file", "empty", "gone"])
def test_a_damaged_trail_is_set_aside_with_what_is_beside_it(
    trail: Trail, backup: Path, damage: str
) -> None:
    path = trail.path
    trail.close()
    whole = path.read_bytes()
    if damage == "head":
        path.write_bytes(b"x" * 2000 + whole[2000:])
    elif damage == "middle":
        path.write_bytes(whole[:4096] + os.urandom(len(whole) - 8192) + whole[-4096:])
    elif damage == "empty":
        path.write_bytes(b"")
    elif damage == "gone":
        path.unlink()
    else:
        put_older_file_beside_log(path, backup)
    done = restore(backup, path)
    assert ids(path) == ["first"]
    assert faults(path) == ""
    assert (done.aside is None) == (damage == "gone")
    assert done.was_damaged == (damage not in ("gone", "empty"))


def put_older_file_beside_log(path: Path, older: Path) -> None:
    """What comes of a backup that is copied over a trail whose log was not folded in."""
    with Trail.open(path) as trail, reading(path):
        trail.add_rows(
            "visits",
            [
                {"box": "B1", "seen_on": "2026-05-15", "visit_id": f"v{number}"}
                for number in range(300)
            ],
        )
        log = log_path(path).read_bytes()
    shutil.copy(older, path)
    log_path(path).write_bytes(log)


def test_a_log_of_another_file_is_recognised(trail: Trail, backup: Path) -> None:
    trail.close()
    assert foreign_log(trail.path) is None
    put_older_file_beside_log(trail.path, backup)
    message = foreign_log(trail.path)
    assert message is not None
    assert "belongs to another file; trail.gpkg alone is whole" in message


def test_a_damaged_backup_changes_nothing(trail: Trail, backup: Path) -> None:
    whole = backup.read_bytes()
    backup.write_bytes(whole[: len(whole) // 2])
    with pytest.raises(NotATrail, match=r"backup\.gpkg"):
        restore(backup, trail.path)
    assert [row["visit_id"] for row in trail.visit_rows()] == ["first", "second"]
    with pytest.raises(BadValue, match="one file for both"):
        restore(trail.path, trail.path)


def test_while_another_program_writes_nothing_is_restored(trail: Trail, backup: Path) -> None:
    with locked(trail.path), pytest.raises(TrailBusy, match="End its edit"):
        restore(backup, trail.path, busy_s=0.2)
    assert [row["visit_id"] for row in trail.visit_rows()] == ["first", "second"]
    assert sorted(path.name for path in trail.path.parent.glob("*.gpkg")) == [
        "backup.gpkg",
        "trail.gpkg",
    ]


def test_an_older_format_is_restored_as_that_of_today(tmp_path: Path) -> None:
    old = Path(__file__).parent / "formats" / "format-1.gpkg"
    target = tmp_path / "mill.gpkg"
    assert restore(old, target).visits == 8
    assert len(ids(target)) > 0


def test_a_visit_is_not_saved_to_a_file_that_was_replaced(trail: Trail, backup: Path) -> None:
    backup.replace(trail.path)
    with pytest.raises(NotATrail, match="moved or replaced while it was open"):
        add_visit(trail, "lost")
    log_path(trail.path).unlink()


def test_what_a_killed_writer_left_is_cleared_by_the_next(trail: Trail) -> None:
    folder = trail.path.parent
    old, fresh = folder / f"{PREFIX}old", folder / f"{PREFIX}fresh"
    for left in (old, fresh):
        left.mkdir()
        (left / "half.gpkg").write_bytes(b"half")
    os.utime(old, (0, 0))
    trail.snapshot(folder / "copy.gpkg")
    assert not old.exists()
    assert fresh.exists()
    fresh_file = fresh / "half.gpkg"
    with pytest.raises(Conflict, match=r"copy\.gpkg, which exists"):
        put_in_place(fresh_file, folder / "copy.gpkg")


KILLED = """
import sys
from pathlib import Path
from layers.trail.restoring import restore
from layers.trail.store import Trail
print("begun", flush=True)
while True:
    restore(Path(sys.argv[1]), Path(sys.argv[2]))
"""


@pytest.mark.parametrize("kills", [3, pytest.param(40, marks=pytest.mark.long)])
def test_a_restore_that_is_killed_leaves_the_trail_before_or_after(
    trail: Trail, backup: Path, kills: int
) -> None:
    trail.close()
    for number in range(kills):
        process = subprocess.Popen(
            [sys.executable, "-c", KILLED, backup, trail.path], stdout=subprocess.PIPE, text=True
        )
        assert process.stdout is not None
        assert process.stdout.readline() == "begun\n"
        with pytest.raises(subprocess.TimeoutExpired):
            process.wait(0.01 + 0.04 * (number % 10))
        process.kill()
        process.communicate()
        assert ids(trail.path) in (["first"], ["first", "second"])
        asides = [ids(path) for path in trail.path.parent.glob("*before-restore*.gpkg")]
        assert all(aside in (["first"], ["first", "second"]) for aside in asides)
    with Trail.open(trail.path) as opened:
        add_visit(opened, "third")
