"""The trail file: valid, append-only, and never behind."""

from __future__ import annotations

import datetime as dt
import random
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely

from layers.errors import (
    BadValue,
    Conflict,
    EnvironmentFault,
    NotATrail,
    NotKnown,
    StorageFull,
    TrailBusy,
)
from layers.trail.schema import TABLES
from layers.trail.settings import Settings
from layers.trail.store import Trail
from tests.trail.validator import faults, gis_counts

VISIT = {"box": "A1", "seen_on": dt.date(2026, 5, 14), "eggs": 4, "visit_id": "first"}


def snapshot(trail: Trail) -> Path:
    target = trail.path.with_name("snapshot.gpkg")
    trail.snapshot(target)
    return target


def test_a_new_trail_is_a_valid_geopackage(tmp_path: Path) -> None:
    with Trail.create(tmp_path / "new.gpkg", Settings("Alderbeck", "Europe/Berlin")) as trail:
        assert faults(snapshot(trail)) == ""


def test_a_trail_after_a_thousand_mixed_edits_is_valid_and_reads_in_a_gis(trail: Trail) -> None:
    rng = random.Random(7)
    for number in range(1000):
        point = shapely.Point(-77.9 + rng.random() / 100, 42.6 + rng.random() / 100)
        kind = rng.randrange(6)
        if kind == 0:
            trail.add_rows("boxes", [{"box": f"N{number}", "geometry": point}])
        elif kind == 1:
            line = shapely.LineString([(point.x, point.y, 3.0), (-77.9, 42.6, 4.0)])
            trail.add_rows("paths", [{"name": f"path {number}", "geometry": line}])
        elif kind in (2, 3):
            trail.add_rows(
                "visits", [VISIT | {"visit_id": f"v{number}", "note": "naïve ☂ 'quoted'"}]
            )
        elif kind == 4:
            with trail.write() as connection:
                connection.execute(
                    "UPDATE boxes SET name = ? WHERE fid = ?", (f"name {number}", rng.randint(1, 3))
                )
        else:
            with trail.write() as connection:
                connection.execute("DELETE FROM places WHERE fid = (SELECT max(fid) FROM places)")
            trail.add_rows(
                "places", [{"name": f"p{number}", "kind": "landmark", "geometry": point}]
            )
    copy = snapshot(trail)
    assert faults(copy) == ""
    counts = gis_counts(copy)
    for name, table in TABLES.items():
        with trail.write() as connection:
            assert counts[name] == connection.execute(f"SELECT count(*) FROM {name}").fetchone()[0]
            if table.geometry:
                indexed = connection.execute(f"SELECT count(*) FROM rtree_{name}_geom").fetchone()
                assert counts[name] == indexed[0]


def test_shapes_and_words_come_back_as_they_went_in(trail: Trail) -> None:
    boxes, paths, zones = trail.boxes(), trail.paths(), trail.zones()
    assert boxes["box"].tolist() == ["A1", "A2", "B1"]
    assert boxes.crs == "EPSG:4326"
    assert boxes["hole_mm"].isna().all()
    assert boxes["name"].tolist() == [None, None, None]
    assert shapely.get_coordinates(paths.geometry[0], include_z=True)[1].tolist() == [
        -77.91,
        42.6,
        214.0,
    ]
    assert zones.geometry[0].equals(shapely.box(-78, 42, -77.9, 43))


def test_every_change_raises_the_version(trail: Trail) -> None:
    seen = [trail.version()]
    trail.add_rows("visits", [VISIT])
    seen.append(trail.version())
    trail.change_settings(visit_every_days=10)
    seen.append(trail.version())
    with trail.write() as connection:
        connection.execute("UPDATE boxes SET name = 'Old Oak' WHERE box = 'A1'")
    seen.append(trail.version())
    assert seen == sorted(set(seen))


def test_a_change_by_another_program_is_seen_at_the_next_look(trail: Trail) -> None:
    trail.changed()
    assert not trail.changed()
    before = trail.version()
    script = (
        "import geopandas, shapely, sys\n"
        "frame = geopandas.GeoDataFrame({'box': ['GIS1'], 'name': ['drawn']},"
        " geometry=[shapely.Point(-77.93, 42.6)], crs=4326)\n"
        "frame.to_file(sys.argv[1], layer='boxes', mode='a', engine='pyogrio')\n"
    )
    subprocess.run([sys.executable, "-c", script, str(trail.path)], check=True)
    assert trail.changed()
    assert trail.version() > before
    assert trail.changes_since(before).tables == {"boxes"}
    assert "GIS1" in trail.box_ids()
    assert faults(snapshot(trail)) == ""


def test_a_visit_added_by_a_gis_gets_its_id_and_moment(trail: Trail) -> None:
    script = (
        "import pandas, pyogrio, sys\n"
        "seen = pandas.Timestamp('2026-05-14T13:00:00Z')\n"
        "frame = pandas.DataFrame({'box': ['A1'], 'seen_on': [seen.date()], 'seen_at': [seen],"
        " 'eggs': [3]})\n"
        "pyogrio.write_dataframe(frame, sys.argv[1], layer='visits', append=True)\n"
    )
    subprocess.run([sys.executable, "-c", script, str(trail.path)], check=True)
    (row,) = trail.visit_rows("A1")
    assert len(row["visit_id"]) == 36
    assert row["seen_on"] == "2026-05-14"
    assert row["seen_at"] == "2026-05-14T13:00:00.000Z"
    assert row["entered_at"].endswith("Z")
    assert trail.visits("A1").minute.tolist() == [9 * 60]
    assert faults(snapshot(trail)) == ""


def test_changes_name_the_boxes_whose_visits_changed(trail: Trail) -> None:
    before = trail.version()
    trail.add_rows("visits", [VISIT, VISIT | {"box": "B1", "visit_id": "second"}])
    changes = trail.changes_since(before)
    assert changes.boxes == {"A1", "B1"}
    assert changes.tables == {"visits"}
    assert not changes.everything
    assert trail.changes_since(trail.version()).boxes == frozenset()


def test_a_visit_moved_to_another_box_by_correction_changes_both(trail: Trail) -> None:
    trail.add_rows("visits", [VISIT, VISIT | {"visit_id": "other"}])
    before = trail.version()
    moved = VISIT | {"box": "B1", "visit_id": "second", "replaces": "first"}
    trail.add_rows("visits", [moved])
    assert trail.changes_since(before).boxes == {"A1", "B1"}
    left = trail.visits("A1")
    assert left.boxes == ("A1",)
    assert len(left) == 2
    assert len(left.known_at()) == 1
    assert len(trail.visits("B1").known_at()) == 1
    whole = trail.visits().known_at()
    assert [whole.boxes[code] for code in whole.box] == ["A1", "B1"]


def test_many_visits_at_once_are_stored_and_logged_as_if_one_by_one(trail: Trail) -> None:
    trail.add_rows("visits", [VISIT])
    rows: list[dict[str, object]] = [
        {"box": "A1", "seen_on": "2026-05-15", "seen_at": "2026-05-15T08:00Z"},
        VISIT | {"visit_id": "second", "entered_at": "2026-05-16T08:00:00Z"},
        VISIT | {"box": "B1", "visit_id": "third", "replaces": "first"},
        VISIT | {"box": "A2", "visit_id": "fourth", "replaces": "third"},
    ]
    triggers = "SELECT name, sql FROM sqlite_master WHERE type = 'trigger' ORDER BY name"
    stored, logged = [], []
    for name, add in (("one", Trail.add_rows), ("many", Trail.add_many)):
        trail.snapshot(trail.path.with_name(name))
        with Trail.open(trail.path.with_name(name)) as copy:
            before, put = copy.version(), copy.rows(triggers)
            assert add(copy, "visits", rows) == len(rows)
            assert copy.rows(triggers) == put
            logged.append(copy.changes_since(before).boxes)
            assert copy.version() > before
            stored.append(copy.visit_rows(current=False))
            for row in stored[-1]:
                assert row["visit_id"], "the file gives it"
                assert len(row["entered_at"]) == 24
                del row["entered_at"]
                row["visit_id"] = len(row["visit_id"]) == 36 or row["visit_id"]
    assert stored[0] == stored[1]
    assert logged == [{"A1", "A2", "B1"}] * 2


def test_a_version_from_another_copy_of_the_file_means_everything(trail: Trail) -> None:
    assert trail.changes_since(trail.version() + 50).everything


def test_numbers_of_numpy_are_stored_as_numbers(trail: Trail) -> None:
    counted = {"eggs": np.int64(3), "young": np.float64("nan")}
    trail.add_rows("visits", [VISIT | counted])
    assert trail.rows("SELECT typeof(eggs), eggs, young FROM visits") == [("integer", 3, None)]


def test_a_snapshot_that_finds_no_room_leaves_nothing_behind(trail: Trail) -> None:
    target = trail.path.with_name("copy.gpkg")
    # SQLite asks before every step of the copy; ended amid it, as by a disk that is full.
    trail._connection.set_progress_handler(lambda: 1, 1000)
    with pytest.raises(EnvironmentFault, match="interrupted"):
        trail.snapshot(target)
    trail._connection.set_progress_handler(None, 0)
    assert [path.name for path in target.parent.glob("copy*")] == []
    trail.snapshot(target)
    with pytest.raises(Conflict, match=r"copy\.gpkg, which exists"):
        trail.snapshot(target)


def test_a_snapshot_into_no_folder_is_refused_as_that(trail: Trail) -> None:
    with pytest.raises(StorageFull, match="cannot be written: No such file or directory"):
        trail.snapshot(trail.path.with_name("nowhere") / "copy.gpkg")


def test_a_correction_replaces_and_the_first_row_stays(trail: Trail) -> None:
    trail.add_rows("visits", [VISIT])
    trail.add_rows("visits", [VISIT | {"eggs": 5, "visit_id": "second", "replaces": "first"}])
    assert [row["eggs"] for row in trail.visit_rows()] == [5]
    assert [row["eggs"] for row in trail.visit_rows(current=False)] == [4, 5]
    assert trail.visit("first")["eggs"] == 4
    assert trail.visits().known_at().eggs.tolist() == [5]


def test_unknown_stays_unknown(trail: Trail) -> None:
    trail.add_rows("visits", [{"box": "A1", "seen_on": "2026-05-14", "visit_id": "blank"}])
    (row,) = trail.visit_rows()
    assert {row[name] for name in ("eggs", "young", "nest", "adult", "signs")} == {None}
    visits = trail.visits()
    assert (visits.eggs[0], visits.young[0], visits.nest[0], visits.minute[0]) == (-1, -1, -1, -1)


def test_a_refused_row_leaves_nothing_of_its_batch(trail: Trail) -> None:
    trail.add_rows("visits", [VISIT])
    version = trail.version()
    with pytest.raises(Conflict, match="a new id in table visits, got one that is taken"):
        trail.add_rows("visits", [VISIT | {"visit_id": "other"}, VISIT])
    assert len(trail.visit_rows()) == 1
    assert trail.version() == version


def test_a_strange_column_is_named(trail: Trail) -> None:
    with pytest.raises(NotKnown, match="Expected columns of table visits, got egs"):
        trail.add_rows("visits", [{"box": "A1", "egs": 4}])


def test_a_locked_file_is_busy_and_nothing_is_lost(trail: Trail) -> None:
    busy = pytest.raises(TrailBusy, match=r"Another program is writing to trail\.gpkg")
    with Trail.open(trail.path, busy_s=0.1) as other, trail.write(), busy:
        other.add_rows("visits", [VISIT])
    trail.add_rows("visits", [VISIT])
    assert len(trail.visit_rows()) == 1


def test_two_writers_lose_nothing(trail: Trail) -> None:
    script = (
        "import sys\nfrom pathlib import Path\nfrom layers.trail.store import Trail\n"
        "with Trail.open(Path(sys.argv[1])) as trail:\n"
        "    for i in range(100):\n"
        "        trail.add_rows('visits', [{'box': 'A1', 'seen_on': '2026-05-14',"
        " 'visit_id': f'{sys.argv[2]}-{i}'}])\n"
    )
    writers = [
        subprocess.Popen([sys.executable, "-c", script, str(trail.path), name]) for name in "xy"
    ]
    assert [writer.wait() for writer in writers] == [0, 0]
    assert len({row["visit_id"] for row in trail.visit_rows()}) == 200


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (None, "there is no file"),
        (b"not a database", "Expected a trail file"),
        (b"", "Expected a trail file"),
    ],
)
def test_what_is_no_trail_is_refused_as_none(
    tmp_path: Path, content: bytes | None, said: str
) -> None:
    path = tmp_path / "thing.gpkg"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(NotATrail, match=said):
        Trail.open(path)


def test_a_trail_is_never_made_over_another_file(trail: Trail) -> None:
    with pytest.raises(Conflict, match=r"got trail\.gpkg, which exists"):
        Trail.create(trail.path, Settings("Other", "Europe/Berlin"))
    with pytest.raises(Conflict, match="which exists"):
        trail.snapshot(trail.path)


def test_a_folder_that_is_not_there_is_reported(tmp_path: Path) -> None:
    with pytest.raises(StorageFull, match="cannot be written"):
        Trail.create(tmp_path / "nowhere" / "t.gpkg", Settings("Other", "Europe/Berlin"))


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({"timezone": "America/New_Yrok"}, r"nearest: America/New_York"),
        ({"units": "imperial"}, "one of metric, us"),
        ({"season_starts": "02-29"}, "a month and day like 01-01, got '02-29'"),
        ({"visit_every_days": 0}, "1 to 60 days"),
        ({"name": " "}, "a name for the trail"),
        ({"own_words": {"nest": ("huge",)}}, "one of guards, signs, actions"),
    ],
)
def test_settings_that_make_no_sense_are_refused(values: dict[str, Any], said: str) -> None:
    with pytest.raises(BadValue, match=said):
        Settings(**({"name": "Alderbeck", "timezone": "Europe/Berlin"} | values))


def test_settings_come_back_as_they_went_in(trail: Trail) -> None:
    changed = trail.change_settings(
        units="us", own_words={"signs": ("moss",)}, season_starts="07-01"
    )
    assert trail.settings() == changed
    assert changed.words("signs")[-1] == "moss"


def test_a_gis_reads_every_layer_while_visits_are_written(trail: Trail) -> None:
    script = (
        "import pyogrio, sys\nlast = 0\n"
        "for _ in range(20):\n"
        "    now = len(pyogrio.read_dataframe(sys.argv[1], layer='visits'))\n"
        "    assert now >= last, (now, last)\n    last = now\n"
        "    assert len(pyogrio.read_dataframe(sys.argv[1], layer='boxes')) == 3\n"
        "print(last)\n"
    )
    reader = subprocess.Popen(
        [sys.executable, "-c", script, str(trail.path)], stdout=subprocess.PIPE, text=True
    )
    written = 0
    while reader.poll() is None:
        trail.add_rows("visits", [VISIT | {"visit_id": f"w{written}"}])
        written += 1
    said, _ = reader.communicate()
    assert reader.returncode == 0
    assert int(said) <= written == len(trail.visit_rows())
    assert gis_counts(snapshot(trail))["visits"] == written
