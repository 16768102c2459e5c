"""A command killed at any moment: the trail is as before or after, and no half file has a name."""

from __future__ import annotations

import random
import shutil
import sqlite3
import subprocess
import sys
import time
import zipfile
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from layers.trail.migrations import TODAY
from layers.trail.store import Trail
from layers.trail.whole_files import PREFIX
from tests.trail.test_migrations import FORMATS

RUN = """
import sys
from server.command import main
import server.terminal
print("begun", flush=True)
sys.exit(main(sys.argv[1:]))
"""
DAY = ("--on", "2026-06-03")
FEW, MANY = 2, 40
WEEKS = 52


def begun(words: tuple[str, ...]) -> subprocess.Popen[str]:
    """A process that has loaded what commands share, and now runs this one."""
    process = subprocess.Popen(
        [sys.executable, "-c", RUN, *words],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
    )
    assert process.stdout is not None
    assert process.stdout.readline() == "begun\n"
    return process


def finish(process: subprocess.Popen[str]) -> None:
    try:
        process.communicate(timeout=600)
    finally:
        process.kill()
    assert process.returncode == 0


@dataclass(frozen=True)
class Case:
    """A command, and what must hold of its folder whenever it was killed."""

    words: tuple[str, ...]
    holds: Callable[[Path], bool]
    """Whether it came to its end before it was killed; fails on anything half done."""
    again: Callable[[Path], None] = lambda _folder: None
    """Make the folder ready for the next run."""


def whole(path: Path) -> bool:
    with closing(sqlite3.connect(path)) as connection:
        return connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]


def rows_of(path: Path) -> int:
    with Trail.open(path) as trail:
        return int(trail.rows("SELECT count(*) FROM visits")[0][0])


def adding(rows: int) -> Case:
    def holds(folder: Path) -> bool:
        assert whole(folder / "trail.gpkg")
        found = rows_of(folder / "trail.gpkg") - rows_of(folder / "demo.gpkg")
        assert found in (0, rows)
        return found == rows

    def again(folder: Path) -> None:
        for left in folder.glob("trail.gpkg*"):
            left.unlink()
        table, empty = folder / "many.csv", folder / "empty.gpkg"
        if not table.exists():
            # A visit a week for a year: what is asked about a visit looks at all of its box.
            boxes = [f"K{number:04d}" for number in range(-(-rows // WEEKS))]
            lines = (
                f"{boxes[n // WEEKS]},{date(2025, 1, 1) + timedelta(7 * (n % WEEKS))},{n}"
                for n in range(rows)
            )
            table.write_text("\n".join(["box,date,note", *lines, ""]), encoding="utf-8")
            shutil.copy(folder / "demo.gpkg", empty)
            with Trail.open(empty) as trail:
                trail.add_rows("boxes", [{"box": box} for box in boxes])
        shutil.copy(empty, folder / "trail.gpkg")

    return Case(("add", "visits", "{folder}/many.csv", "{folder}/trail.gpkg"), holds, again)


def exporting(name: str, opens: Callable[[Path], bool]) -> Case:
    def holds(folder: Path) -> bool:
        made = folder / name
        assert not made.exists() or opens(made)
        return made.exists()

    def again(folder: Path) -> None:
        (folder / name).unlink(missing_ok=True)

    words = ("export", "{folder}/demo.gpkg", "--full", "-o", f"{{folder}}/{name}", *DAY)
    return Case(words, holds, again)


def zip_opens(path: Path) -> bool:
    with zipfile.ZipFile(path) as archive:
        return archive.testzip() is None and "meta.xml" in archive.namelist()


def pages_are_all_there(folder: Path) -> bool:
    """The list of what was written names every file; a folder half written has no such list."""
    pages = folder / "pages"
    if not pages.exists():
        return False
    listed = (pages / "boxround-site.txt").read_text(encoding="utf-8").splitlines()[1:]
    assert len(listed) > 10
    assert {path.name for path in pages.iterdir() if path.is_file()} >= {*listed}
    return True


def no_pages(folder: Path) -> None:
    shutil.rmtree(folder / "pages", ignore_errors=True)


def brought_up(folder: Path) -> bool:
    """Of an old format or of today's, whole, with the same visits; the copy beside it too."""
    for path in folder.glob("old*.gpkg"):
        assert whole(path)
    with closing(sqlite3.connect(folder / "old.gpkg")) as connection:
        ((mark,),) = connection.execute("SELECT format FROM trail").fetchall()
        ((visits,),) = connection.execute("SELECT count(*) FROM visits").fetchall()
    with closing(sqlite3.connect(FORMATS / "format-1.gpkg")) as connection:
        assert connection.execute("SELECT count(*) FROM visits").fetchall() == [(visits,)]
    assert mark in ("boxround 1", f"boxround {TODAY}")
    return bool(mark == f"boxround {TODAY}")


def old_again(folder: Path) -> None:
    for left in folder.glob("old*"):
        left.unlink()
    shutil.copy(FORMATS / "format-1.gpkg", folder / "old.gpkg")


CASES = {
    "add": adding(3_000),
    "add 100,000": adding(100_000),
    "export archive": exporting("out.zip", zip_opens),
    "export GeoPackage": exporting("out.gpkg", whole),
    "publish": Case(
        ("publish", "{folder}/demo.gpkg", "-o", "{folder}/pages", *DAY),
        pages_are_all_there,
        no_pages,
    ),
    "format step": Case(("status", "{folder}/old.gpkg"), brought_up, old_again),
}


def in_turn() -> list[Any]:
    few = [pytest.param(name, FEW, id=name) for name in ("add", "format step")]
    marks = [pytest.mark.long, pytest.mark.timeout(7200)]
    return few + [pytest.param(name, MANY, id=f"{name}, often", marks=marks) for name in CASES]


@pytest.mark.slow
@pytest.mark.parametrize(("name", "kills"), in_turn())
def test_a_killed_command_leaves_all_or_nothing(
    built: Path, tmp_path: Path, name: str, kills: int
) -> None:
    case, rng = CASES[name], random.Random(name)
    shutil.copy(built, tmp_path / "demo.gpkg")
    words = tuple(word.format(folder=tmp_path) for word in case.words)
    case.again(tmp_path)
    process, start = begun(words), time.monotonic()
    finish(process)
    usual_s = time.monotonic() - start
    assert case.holds(tmp_path)
    ended = []
    for _ in range(kills):
        case.again(tmp_path)
        process = begun(words)
        # Rather early: the end of most commands is what they print.
        time.sleep(usual_s * rng.random() ** 2)
        process.kill()
        process.communicate()
        ended.append(case.holds(tmp_path))
    assert kills == FEW or False in ended
    # Whatever a killed one left behind is in no other's way.
    case.again(tmp_path)
    process = begun(words)
    finish(process)
    assert case.holds(tmp_path)
    names = {path.name for path in tmp_path.iterdir() if not path.name.startswith(PREFIX)}
    assert not {one for one in names if one.endswith((".part", ".tmp"))}
