"""What `doctor` sees in and around a trail's file."""

from __future__ import annotations

import json
import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from layers.errors import NotATrail
from layers.trail.background import background_path
from layers.trail.backups import back_up_into
from layers.trail.settings import Settings
from layers.trail.store import Trail
from server.command import main
from server.trail_file import doctor
from server.trail_file.doctor import examine
from tests.trail.test_restoring import put_older_file_beside_log

NOW = datetime(2026, 6, 3, 12, tzinfo=UTC)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    made = tmp_path / "mill.gpkg"
    with Trail.create(made, Settings("Mill", "Europe/Berlin")) as trail:
        back_up_into(trail, tmp_path / "backups", now=NOW - timedelta(days=1), keep_days=None)
    return made


def found(path: Path, subject: str) -> tuple[str, str]:
    one = next(one for one in examine(path, now=NOW, backups=None) if one.subject == subject)
    return one.state, one.what


def test_a_trail_in_good_health_has_nothing_to_look_at(path: Path) -> None:
    checkups = examine(path, now=NOW, backups=None)
    assert {one.state for one in checkups} == {"good"}
    assert [one.subject for one in checkups] == [
        "program",
        "file",
        "format",
        "time zone",
        "size",
        "place",
        "backup",
        "clock",
        "permissions",
        "access",
    ]


def _shorten(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:20_000])


def _put_older_beside_log(path: Path) -> None:
    older = path.with_name("older.gpkg")
    with Trail.open(path) as trail:
        trail.snapshot(older)
    put_older_file_beside_log(path, older)


def _take_backups_away(path: Path) -> None:
    shutil.rmtree(path.with_name("backups"))


def _let_others_read(path: Path) -> None:
    path.chmod(0o644)


def _put_a_background(path: Path) -> None:
    with closing(sqlite3.connect(background_path(path))) as file, file:
        file.execute("CREATE TABLE metadata (name TEXT, value TEXT)")
        values = {"bounds": "-78,42,-77,43", "minzoom": "14", "maxzoom": "16"}
        values |= {"attribution": "An invented survey", "licence": "CC0"}
        file.executemany("INSERT INTO metadata VALUES (?, ?)", values.items())


def _break_the_background(path: Path) -> None:
    background_path(path).write_bytes(b"no tiles")


def _revoke_the_keeper(path: Path) -> None:
    assert main(["invite", str(path), "--name", "Wren", "--role", "keeper"]) == 0
    assert main(["revoke", str(path), "--name", "Wren"]) == 0


def _no_trail(path: Path) -> None:
    path.unlink()
    shutil.copy(Path(doctor.__file__).parents[2] / "tests/trail/formats/format-1.gpkg", path)


@pytest.mark.parametrize(
    ("change", "subject", "state", "what"),
    [
        (_shorten, "file", "fault", "boxround restore BACKUP mill.gpkg"),
        (_put_older_beside_log, "side files", "fault", "mill.gpkg alone is whole"),
        (_take_backups_away, "backup", "look", "--keep 30"),
        (_let_others_read, "permissions", "look", "chmod 600 mill.gpkg"),
        (_put_a_background, "background", "good", "by An invented survey; no backup holds it"),
        (_break_the_background, "background", "fault", "boxround remove background mill.gpkg"),
        (_revoke_the_keeper, "access", "look", "boxround invite --role keeper"),
        (_no_trail, "format", "look", "format 1; brought to format 2"),
    ],
)
def test_what_is_not_well_is_named_with_what_to_do(
    path: Path, change: Callable[[Path], None], subject: str, state: str, what: str
) -> None:
    change(path)
    seen, message = found(path, subject)
    assert seen == state
    assert what in message


def test_an_old_backup_and_a_wrong_clock_are_seen(path: Path) -> None:
    later, earlier = NOW + timedelta(days=30), NOW - timedelta(days=30)
    for now, subject, state in ((later, "backup", "look"), (earlier, "clock", "fault")):
        checkups = {one.subject: one for one in examine(path, now=now, backups=None)}
        assert checkups[subject].state == state


def test_folders_that_are_copied_or_far_away_are_seen(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    synced = path.parent / "Dropbox"
    synced.mkdir()
    copy = Path(shutil.copy(path, synced))
    assert found(copy, "place")[0] == "look"
    monkeypatch.setattr(doctor, "_file_system", lambda _: "nfs4")
    assert "where locks may fail" in found(path, "place")[1]


def test_the_command_ends_with_one_where_something_must_be_mended(
    path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["doctor", str(path), "--json"]
    assert main(words) == 0
    rows: list[dict[str, Any]] = json.loads(capsys.readouterr().out)
    assert {row["subject"] for row in rows} >= {"file", "backup"}
    _shorten(path)
    assert main(words[:2]) == 1
    assert "fault" in capsys.readouterr().out
    with pytest.raises(NotATrail, match="there is no file"):
        examine(path.with_name("none.gpkg"), now=NOW, backups=None)
