"""The ids of a trail are made once, and go with its file."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from layers.errors import BadValue
from layers.trail.migrations.upgrade import readable
from layers.trail.restoring import restore
from layers.trail.settings import Settings
from layers.trail.store import Trail

FORMAT_1 = Path(__file__).parent / "formats" / "format-1.gpkg"
SETTINGS = Settings("Mill", "Europe/Berlin")


def test_no_two_trails_have_the_same(tmp_path: Path) -> None:
    ids = set()
    for name in "abc":
        with Trail.create(tmp_path / f"{name}.gpkg", SETTINGS) as trail:
            ids |= {trail.identity().trail_id, trail.identity().secret_id}
    assert len(ids) == 6


def test_they_stay_in_copies_backups_and_what_is_restored(trail: Trail, tmp_path: Path) -> None:
    ids = trail.identity()
    trail.change_settings(name="Another name")
    trail.snapshot(tmp_path / "backup.gpkg")
    with Trail.create(tmp_path / "other.gpkg", SETTINGS) as other:
        restore(tmp_path / "backup.gpkg", other.path)
        assert trail.identity() == other.identity() == ids


def test_an_older_file_gets_them_once_and_its_copies_have_the_same_trail_id(tmp_path: Path) -> None:
    ids = []
    for name in ("a", "b"):
        path = Path(shutil.copy(FORMAT_1, tmp_path / f"{name}.gpkg"))
        with readable(path) as passing, Trail.open(passing) as trail:
            ids.append(trail.identity())
        for _ in range(2):
            with Trail.open(path) as trail:
                ids.append(trail.identity())
    assert len({one.trail_id for one in ids}) == 1
    assert ids[1] == ids[2] != ids[4] == ids[5], "the secret one is random, and stays"


def test_who_took_them_out_of_the_file_reads_what_to_do(trail: Trail) -> None:
    with trail.write() as connection:
        connection.execute("UPDATE trail SET trail_id = NULL")
    with pytest.raises(BadValue, match=r"uuid.*of a backup.*trail_id"):
        trail.identity()


def test_a_visit_is_known_by_its_first_entry_however_often_it_is_corrected(trail: Trail) -> None:
    common = {"box": "A1", "seen_on": "2026-05-14"}
    corrects = (None, "first", "second", None, "elsewhere")
    names = ("first", "second", "third", "other", "of a lost row")
    trail.add_rows(
        "visits",
        [
            {**common, "visit_id": name, "replaces": before}
            for name, before in zip(names, corrects, strict=True)
        ],
    )
    assert trail.first_entries([1, 2, 3, 4, 5]) == {
        **dict.fromkeys((1, 2, 3), "first"),
        4: "other",
        5: "of a lost row",
    }
    assert trail.first_entries([]) == {}
