"""Three small made trails, and an archive of them."""

from __future__ import annotations

import shutil
from collections import Counter
from dataclasses import replace
from datetime import date
from functools import cache
from pathlib import Path

import pytest

from data_demo.build import PUBLIC_RULES
from data_demo.demo import TIMEZONE, make_demo
from layers.pooling.archive import Archive
from layers.pooling.manifest import read_manifest
from layers.pooling.parquet import read_part
from layers.pooling.tables import Key, Part
from layers.trail.settings import Settings
from layers.trail.store import Trail
from server.pooling.source import read_trail

ON = date(2026, 8, 31)
SECTIONS = {"Alderbeck": "M", "Birkenried": "N", "Coldwater": "O", "Dune": "P"}
"""Trail -> the boxes of the demo that it has, by the letter that their ids begin with."""
NAMES = ("Alderbeck", "Birkenried", "Coldwater")
BOXES = 15

_demo = cache(make_demo)


def make_trail(path: Path, name: str) -> Path:
    """A trail of a section of the demo; the first and the third are in one region."""
    letter = SECTIONS[name]
    rules = replace(PUBLIC_RULES, region="south" if letter in "MO" else "north")
    settings = Settings(name=name, timezone=TIMEZONE, public_rules=rules)
    with Trail.create(path, settings) as trail:
        boxes = [row for row in _demo().reserve.boxes if row["box"].startswith(letter)]
        trail.add_rows("boxes", boxes)
        trail.add_rows("visits", [row for row in _demo().visits() if row["box"][0] == letter])
    return path


@pytest.fixture(scope="session")
def made_trails(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("trails")
    return {name: make_trail(folder / f"{name}.gpkg", name) for name in NAMES}


@pytest.fixture(scope="session")
def pooled(
    made_trails: dict[str, Path], tmp_path_factory: pytest.TempPathFactory
) -> tuple[Path, dict[str, str]]:
    """An archive of all three in full, and the identifier of each by its name."""
    path = tmp_path_factory.mktemp("pooled") / "archive"
    return path, {name: pool(path, trail) for name, trail in made_trails.items()}


def read(trail: Path, release: str = "full") -> dict[Key, Part]:
    return dict(read_trail(trail, release=release, on=ON).parts)


def pool(archive: Path, trail: Path, release: str = "full") -> str:
    """Pool a trail; its identifier."""
    given = read_trail(trail, release=release, on=ON)
    Archive(archive).put([given])
    return given.entry.trail


@pytest.fixture
def archive(pooled: tuple[Path, dict[str, str]], tmp_path: Path) -> Path:
    """A copy of the archive that a test may change."""
    return Path(shutil.copytree(pooled[0], tmp_path / "archive"))


@pytest.fixture
def ids(pooled: tuple[Path, dict[str, str]]) -> dict[str, str]:
    return pooled[1]


def files_of(archive: Path) -> dict[str, bytes]:
    return {
        path.relative_to(archive).as_posix(): path.read_bytes()
        for path in sorted(archive.rglob("*.parquet"))
    }


def rows_of(archive: Path) -> Counter[str]:
    """Visits by trail, read by the manifest, each file checked."""
    assert list(Archive(archive).faults()) == []
    rows: Counter[str] = Counter()
    for one in read_manifest(archive).of_table("visits"):
        rows.update(read_part(archive, one, ["trail"]).column("trail").to_pylist())
    return rows
