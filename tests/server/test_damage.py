"""A damaged file, whatever the damage: each command ends in a sentence, never in a traceback."""

from __future__ import annotations

import random
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
import shapely

from layers.trail.settings import Settings
from layers.trail.store import Trail
from server.command import main

DAY = ("--on", "2026-06-03")
COMMANDS: tuple[tuple[str, ...], ...] = (
    ("check", "{trail}"),
    ("doctor", "{trail}"),
    ("settings", "{trail}"),
    ("status", "{trail}", *DAY),
    ("nests", "{trail}", *DAY),
    ("due", "{trail}", *DAY),
    ("backup", "{trail}", "{out}.gpkg"),
    ("export", "{trail}", "--full", "-o", "{out}.zip", *DAY),
    ("restore", "{trail}", "{out}-restored.gpkg"),
    ("rescue", "{trail}", "{out}-rescued.gpkg"),
)


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    path = tmp_path_factory.mktemp("whole") / "mill.gpkg"
    with Trail.create(path, Settings("Mill", "Europe/Berlin")) as trail:
        points = [shapely.Point(13 + number / 1000, 52) for number in range(40)]
        trail.add_rows(
            "boxes",
            [{"box": f"A{number}", "geometry": point} for number, point in enumerate(points)],
        )
        trail.add_rows(
            "visits",
            [
                {"box": f"A{number % 40}", "seen_on": "2026-05-14", "eggs": 4, "note": "n" * 200}
                for number in range(200)
            ],
        )
    return path.read_bytes()


def _shortened(body: bytes, rng: random.Random) -> bytes:
    return body[: rng.randrange(len(body))]


def _pages_swapped(body: bytes, rng: random.Random) -> bytes:
    pages = [body[at : at + 4096] for at in range(0, len(body), 4096)]
    one, two = rng.sample(range(1, len(pages)), 2)
    pages[one], pages[two] = pages[two], pages[one]
    return b"".join(pages)


def _letters_changed(body: bytes, rng: random.Random) -> bytes:
    changed = bytearray(body)
    for _ in range(rng.choice((1, 20, 400))):
        changed[rng.randrange(len(changed))] = rng.randrange(256)
    return bytes(changed)


def _schema_of_no_text(body: bytes, _rng: random.Random) -> bytes:
    return body.replace(b"CREATE TABLE visits", b"CREATE T\xff\xfeLE visits")


def _blanked(body: bytes, rng: random.Random) -> bytes:
    at = rng.randrange(len(body) // 4096) * 4096
    return body[:at] + bytes(4096) + body[at + 4096 :]


BYTES: tuple[Callable[[bytes, random.Random], bytes], ...] = (
    _shortened,
    _pages_swapped,
    _letters_changed,
    _schema_of_no_text,
    _blanked,
)

ROWS = (
    "UPDATE trail SET timezone = 'Nowhere/At_All'",
    "UPDATE trail SET public_rules = x'ff00'",
    "UPDATE trail SET season_starts = 7",
    "UPDATE visits SET seen_at = 'yesterday' WHERE fid = 3",
    "UPDATE visits SET seen_at = 12 WHERE fid = 3",
    "UPDATE visits SET entered_at = 'x' WHERE fid = 3",
    "UPDATE visits SET seen_on = 'x' WHERE fid = 3",
    "UPDATE visits SET note = CAST(x'fffe' AS TEXT) WHERE fid = 3",
    "UPDATE boxes SET geom = x'00' WHERE fid = 3",
    "UPDATE boxes SET box = 7 WHERE fid = 3",
    "UPDATE boxes SET hole_mm = 'wide' WHERE fid = 3",
    "UPDATE boxes SET installed_on = 'x' WHERE fid = 3",
    "UPDATE boxes SET installed_on = 7, removed_on = '2026-05-01' WHERE fid = 3",
    "UPDATE boxes SET cleaned_on = '2026-13-01' WHERE fid = 3",
    "DROP TABLE zones",
    "DELETE FROM trail",
)
"""What another program may write once it has put our triggers out of the way."""


def try_all_commands(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for number, words in enumerate(COMMANDS):
        out = path.with_name(f"out{number}")
        code = main([word.format(trail=path, out=out) for word in words])
        printed = capsys.readouterr()
        assert code in (0, 1, 2, 3), words
        assert "Traceback" not in printed.err, words
        assert code == 0 or printed.out.strip() or printed.err.strip(), words


@pytest.mark.parametrize("seed", [*range(10), pytest.param(None, marks=pytest.mark.long)])
def test_bytes_gone_wrong_end_in_a_sentence(
    whole: bytes, tmp_path: Path, seed: int | None, capsys: pytest.CaptureFixture[str]
) -> None:
    for one in range(10, 210) if seed is None else [seed]:
        folder = tmp_path / str(one)
        folder.mkdir()
        path = folder / "mill.gpkg"
        path.write_bytes(BYTES[one % len(BYTES)](whole, random.Random(one)))
        try_all_commands(path, capsys)


@pytest.mark.parametrize("sql", ROWS)
def test_rows_gone_wrong_end_in_a_sentence(
    whole: bytes, tmp_path: Path, sql: str, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "mill.gpkg"
    path.write_bytes(whole)
    with closing(sqlite3.connect(path)) as connection:
        for (name,) in connection.execute(
            "SELECT name FROM sqlite_master WHERE type = 'trigger'"
        ).fetchall():
            connection.execute(f"DROP TRIGGER {name}")
        connection.execute(sql)
        connection.commit()
    try_all_commands(path, capsys)
