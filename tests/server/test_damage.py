"""A damaged file, whatever the damage: each command ends in a sentence, never in a traceback."""

from __future__ import annotations

import random
import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
import shapely

from layers.trail.settings import Settings
from layers.trail.store import Trail
from server.command import COMMANDS, main

DAY = ("--on", "2026-06-03")
ANSWERS: tuple[tuple[str, ...], ...] = (
    ("settings", "{trail}"),
    ("status", "{trail}", *DAY),
    ("nests", "{trail}", *DAY, "--json"),
    ("due", "{trail}", *DAY, "--all"),
    ("near", "{trail}", "52", "13"),
    ("walk", "{trail}", *DAY, "--boxes", "A1", "A2", "A3"),
    ("length", "{trail}"),
    ("season", "{trail}", "--year", "2026", *DAY),
    ("site", "{trail}", "52", "13", *DAY),
    ("week", "{trail}", *DAY, "--free", "Ann: Wed 120"),
    ("winter", "{trail}", *DAY),
    ("people", "{trail}"),
    ("take-back", "{trail}"),
)
"""Commands that only answer: on damage they answer as on the whole file, or not at all."""

WRITERS: tuple[tuple[str, ...], ...] = (
    ("check", "{trail}"),
    ("doctor", "{trail}"),
    ("backup", "{trail}", "{out}.gpkg"),
    ("export", "{trail}", "--full", "-o", "{out}.zip", *DAY),
    ("map", "{trail}", "-o", "{out}.html", *DAY),
    ("publish", "{trail}", "-o", "{out}-pages", *DAY),
    ("pool", "{trail}", "-o", "{out}-archive", "--release", "full", *DAY),
    ("restore", "{trail}", "{out}-restored.gpkg"),
    ("rescue", "{trail}", "{out}-rescued.gpkg"),
)
LAST: tuple[tuple[str, ...], ...] = (
    ("add", "visits", "{visits}", "{trail}"),
    ("remove", "boxes", "{trail}", "A39"),
    ("invite", "{trail}", "--name", "Wren", "--role", "keeper"),
    ("revoke", "{trail}", "--name", "Wren"),
)
"""They change the trail, so they come last."""

WITHOUT_A_TRAIL_THAT_IS = {"new", "guide", "serve", "demo", "prepare", "setup"}


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

OF_PAGES = (_shortened, _pages_swapped, _blanked)


def long_seed(number: int) -> Any:
    """A hundred files of which `make long` tries all."""
    seeds = range(100 * number, 100 * number + 100)
    return pytest.param(
        seeds, marks=[pytest.mark.long, pytest.mark.timeout(3600)], id=f"hundred {number}"
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


def run(
    words: tuple[str, ...], path: Path, number: int, capsys: pytest.CaptureFixture[str]
) -> tuple[int, str]:
    """Exit code and output of a command; it must end in a sentence."""
    out, visits = path.with_name(f"out{number}"), path.with_name("visits.csv")
    visits.write_text("box,date,eggs\nA1,2026-05-20,3\n", encoding="utf-8")
    try:
        code = main([word.format(trail=path, out=out, visits=visits) for word in words])
    except SystemExit as end:
        raise AssertionError(words) from end
    printed = capsys.readouterr()
    assert code in (0, 1, 2, 3), words
    assert "Traceback" not in printed.err, words
    assert code == 0 or printed.out.strip() or printed.err.strip(), words
    return code, printed.out


def tried(
    path: Path, capsys: pytest.CaptureFixture[str], *, turn: int = 0, of: int = 1
) -> dict[str, tuple[int, str]]:
    """What each command that only answers came to; one in `of` of all commands is run."""
    answers: dict[str, tuple[int, str]] = {}
    for number, words in enumerate((*ANSWERS, *WRITERS, *LAST)):
        if number % of == turn % of:
            came = run(words, path, number, capsys)
            if words in ANSWERS:
                answers[words[0]] = came
    return answers


def test_every_command_with_a_trail_is_tried() -> None:
    run_here = {words[0] for words in (*ANSWERS, *WRITERS, *LAST)}
    assert run_here == set(COMMANDS) - WITHOUT_A_TRAIL_THAT_IS


@pytest.mark.parametrize("seed", [*range(5), *(long_seed(n) for n in range(1, 21))])
def test_bytes_gone_wrong_end_in_a_sentence_and_in_no_other_answer(
    whole: bytes, tmp_path: Path, seed: int | range, capsys: pytest.CaptureFixture[str]
) -> None:
    """No checksum guards a single letter, but a page that is missing or elsewhere is noticed."""
    path = tmp_path / "mill.gpkg"
    path.write_bytes(whole)
    right = tried(path, capsys)
    few = 1 if isinstance(seed, int) else 4
    for one in [seed] if isinstance(seed, int) else seed:
        folder = tmp_path / str(one)
        folder.mkdir()
        path = folder / "mill.gpkg"
        damage = BYTES[one % len(BYTES)]
        path.write_bytes(damage(whole, random.Random(one)))
        answers = tried(path, capsys, turn=one // len(BYTES), of=few)
        if damage in OF_PAGES:
            wrong = {
                name: (text, right[name][1])
                for name, (code, text) in answers.items()
                if code == 0 and text.replace(str(folder), str(tmp_path)) != right[name][1]
            }
            assert wrong == {}, one
        shutil.rmtree(folder)


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
    tried(path, capsys, turn=ROWS.index(sql), of=2)
