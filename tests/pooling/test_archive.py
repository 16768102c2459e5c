"""An archive holds what its trails let go, whole at any moment, and gives all of it back."""

from __future__ import annotations

import csv
import json
import shutil
import sqlite3
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import duckdb
import geopandas as gpd
import pyarrow.dataset as ds
import pytest
from pyarrow import parquet

from layers.errors import BadValue, NotATrail, NotKnown, StorageFull, TrailBusy
from layers.pooling.archive import Archive
from layers.pooling.codes import joined_visits, recoded
from layers.pooling.columns import TABLES, schema_of
from layers.pooling.manifest import read_manifest
from layers.pooling.parquet import read_part
from layers.trail.store import Trail
from layers.trail.visits import STILL_CURRENT, Visits
from server.pooling.source import read_trail
from tests.pooling.conftest import BOXES, NAMES, ON, files_of, pool, read, rows_of


def test_duckdb_arrow_and_geopandas_count_alike(archive: Path) -> None:
    counts = {}
    for table in ("visits", "attempts"):
        found = duckdb.execute(
            f"SELECT season, count(*) FROM '{archive}/{table}/*/*.parquet' GROUP BY season"
        ).fetchall()
        by_arrow = ds.dataset(archive / table, partitioning="hive").to_table(columns=["season"])
        assert dict(found) == Counter(by_arrow.column("season").to_pylist())
        counts[table] = sum(dict(found).values())
    manifest = read_manifest(archive)
    for table, count in counts.items():
        assert count == sum(one.rows for one in manifest.of_table(table))
    boxes = gpd.read_parquet(archive / "boxes")
    assert boxes.crs == "EPSG:4326"
    assert len(boxes) == BOXES * len(NAMES)
    assert boxes["box_id"].nunique() == len(boxes)
    (joined,) = duckdb.execute(
        f"SELECT count(*) FROM '{archive}/visits/*/*.parquet' JOIN '{archive}/boxes/*.parquet'"
        " USING (trail, box_id)"
    ).fetchall()
    assert joined == (counts["visits"],)


def test_rows_say_what_the_trail_file_says(
    archive: Path, made_trails: dict[str, Path], ids: dict[str, str]
) -> None:
    name = NAMES[0]
    with Trail.open(made_trails[name]) as trail:
        stored = {row["visit_id"]: row for row in trail.visit_rows(current=False)}
        holds = {row["visit_id"] for row in trail.visit_rows()}
    table = ds.dataset(archive / "visits", partitioning="hive").to_table(
        filter=ds.field("trail") == ids[name]
    )
    rows = {row["visit_id"]: row for row in table.to_pylist()}
    assert rows.keys() == stored.keys()
    assert {visit for visit, row in rows.items() if row["current"]} == holds
    for visit, row in rows.items():
        for column in ("box", "species", "eggs", "young", "nest", "signs", "note", "observer"):
            assert row[column] == stored[visit][column], column
        assert row["seen_on"].isoformat() == stored[visit]["seen_on"]
        assert row["season"] == row["seen_on"].year


def test_codes_give_the_visits_of_the_trail(made_trails: dict[str, Path]) -> None:
    path = made_trails[NAMES[1]]
    parts = read(path)
    visits, of_box = joined_visits([part for (name, _), part in parts.items() if name == "visits"])
    with Trail.open(path) as trail:
        own = trail.visits().known_at()
    assert len(set(of_box)) == 1
    assert len(visits) == len(own)

    def rows(given: Visits, boxes: list[int]) -> list[tuple[object, ...]]:
        names = [*given.species_names, None]
        return sorted(
            (boxes[box], day, minute, names[species] or "", *numbers)
            for box, day, minute, species, *numbers in zip(
                given.box.tolist(),
                given.day.tolist(),
                given.minute.tolist(),
                given.species.tolist(),
                *(
                    given.column(name).tolist()
                    for name in ("nest", "eggs", "young", "adult", "eggs_warm", "opened")
                ),
                *(given.column(name).tolist() for name in ("signs", "actions", "young_days")),
                strict=True,
            )
        )

    # Boxes are named by their lasting ids, in the order of the trail's.
    order = {box: number for number, box in enumerate(dict.fromkeys(own.box.tolist()))}
    assert rows(visits, list(range(len(visits.boxes)))) == rows(
        own, [order.get(box, -1) for box in range(len(own.boxes))]
    )
    assert (visits.replaced_s == STILL_CURRENT).all()


def test_codes_of_other_word_lists_are_made_anew(
    made_trails: dict[str, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    parts = read(made_trails[NAMES[0]])
    part = parts["visits", 2026]
    assert recoded(part) is part
    zeros = part.set_column(
        part.schema.get_field_index("code_signs"),
        "code_signs",
        part.column("code_nest").cast("int64"),
    ).replace_schema_metadata({b"boxround_word_lists": b"older"})
    assert recoded(zeros).equals(part)


def test_a_trail_as_it_was_writes_nothing_and_a_season_more_its_own_alone(
    archive: Path, tmp_path: Path, made_trails: dict[str, Path], ids: dict[str, str]
) -> None:
    name = NAMES[2]
    path = Path(shutil.copy(made_trails[name], tmp_path / "again.gpkg"))
    before = files_of(archive)
    pool(archive, path)
    assert files_of(archive) == before
    with Trail.open(path) as trail:
        row = trail.visit_rows()[-1]
        trail.add_rows(
            "visits",
            [{"box": row["box"], "seen_on": "2026-08-30", "visit_id": "7b0c", "nest": "none"}],
        )
    pool(archive, path)
    after = files_of(archive)
    gone, new = before.keys() - after.keys(), after.keys() - before.keys()
    assert {name.split("/")[1] for name in gone | new} == {"season=2026"}
    written = [one for one in read_manifest(archive).files if one.file in new]
    assert {trail for one in written for trail in one.trails} == {ids[name]}
    assert all(after[file] == before[file] for file in before.keys() & after.keys())


def test_trails_put_together_are_one_change_and_what_each_gives_alone(
    archive: Path, made_trails: dict[str, Path], tmp_path: Path
) -> None:
    together = Archive(tmp_path / "together", group_trails=2)
    pooled = [read_trail(path, release="full", on=ON) for path in made_trails.values()]
    # The same trail twice, as from a backup: the later counts.
    changed = together.put([pooled[0], *pooled])
    assert changed == [len(one.parts) for one in (pooled[0], *pooled)]
    manifest = together.manifest()
    assert [one.trail for one in manifest.log] == [one.entry.trail for one in pooled]
    assert sorted(one.group or "" for one in manifest.trails.values()) == [
        *("group00001", "group00001", "group00002")
    ]
    assert together.compact() == 0
    alone = Archive(archive)
    assert alone.compact() > 0
    assert rows_of(tmp_path / "together") == rows_of(archive)
    assert together.put(pooled) == [0, 0, 0]


@pytest.mark.parametrize("compacted", [False, True])
def test_taking_a_trail_back_leaves_no_row_id_or_square(
    archive: Path, ids: dict[str, str], compacted: bool
) -> None:
    name = NAMES[1]
    if compacted:
        assert Archive(archive).compact() > 0
    table = ds.dataset(archive / "visits", partitioning="hive").to_table()
    own = table.filter(ds.field("trail") == ids[name])
    words = {
        str(value).encode()
        for column in ("trail", "box_id", "visit_id", "nest_id", "species")
        for value in own.column(column).unique().to_pylist()
        if value is not None
    }
    others = table.filter(ds.field("trail") != ids[name])
    words -= {str(value).encode() for value in others.column("species").unique().to_pylist()}
    Archive(archive).take_back(ids[name])
    left = ds.dataset(archive / "visits", partitioning="hive").to_table()
    assert left.num_rows == others.num_rows
    for path in archive.rglob("*"):
        if path.is_file():
            held = _plain(path)
            assert not [word for word in words if word in held], path
            assert name.encode() not in held
    assert ids[name] not in read_manifest(archive).trails
    assert read_manifest(archive).log[-1].what == "taken back"
    assert list(Archive(archive).faults()) == []
    with pytest.raises(NotKnown, match="which is not in it"):
        Archive(archive).take_back(ids[name])


def _plain(path: Path) -> bytes:
    """All of a file's values and words, dictionaries too, without compression."""
    if path.suffix != ".parquet":
        return path.read_bytes()
    table = parquet.read_table(path, partitioning=None)
    held = [str(table.schema.metadata).encode()]
    for column in table.columns:
        for chunk in column.chunks:
            values = getattr(chunk, "dictionary", chunk)
            held.append("\n".join(map(str, values.to_pylist())).encode())
    return b"\n".join(held)


def test_groups_hold_the_same_rows_and_a_trail_may_change_after(
    archive: Path, tmp_path: Path, made_trails: dict[str, Path], ids: dict[str, str]
) -> None:
    def rows() -> Counter[str]:
        table = ds.dataset(archive / "visits", partitioning="hive").to_table()
        return Counter(table.column("visit_id").to_pylist())

    before = rows()
    Archive(archive).compact()
    assert rows() == before
    assert all(file.split("/")[-1].startswith("group") for file in files_of(archive))
    assert Archive(archive).compact() == 0
    path = Path(shutil.copy(made_trails[NAMES[0]], tmp_path / "changed.gpkg"))
    with Trail.open(path) as trail:
        box = trail.box_ids()[0]
        trail.add_rows("visits", [{"box": box, "seen_on": "2026-08-30", "visit_id": "7b0d"}])
    pool(archive, path)
    assert rows() == before + Counter(["7b0d"])
    Archive(archive).compact()
    assert rows() == before + Counter(["7b0d"])
    boxes = gpd.read_parquet(archive / "boxes")
    assert set(boxes["trail"]) == set(ids.values())


def test_a_coarse_release_has_no_person_no_place_and_no_hidden_box(
    made_trails: dict[str, Path], tmp_path: Path
) -> None:
    trail = made_trails["Alderbeck"]
    archive = tmp_path / "archive"
    pool(archive, trail, "coarse")
    with Trail.open(trail) as opened:
        boxes = opened.boxes()
        stored = opened.visit_rows()
    hidden = set(boxes["box"][boxes["public"] == "hidden"])
    assert hidden
    frame = gpd.read_parquet(archive / "boxes")
    assert len(frame) == len(boxes) - len(hidden)
    exact = {(point.x, point.y) for point in boxes.geometry}
    assert not exact & {(point.x, point.y) for point in frame.geometry}
    assert frame["square"].notna().all()
    visits = ds.dataset(archive / "visits", partitioning="hive").to_table().to_pylist()
    assert visits
    for table in TABLES.values():
        left_out = [one.name for one in table.columns if "coarse" not in one.releases]
        if (archive / table.name).exists() and left_out:
            held = ds.dataset(archive / table.name, partitioning="hive").to_table(columns=left_out)
            assert all(column.null_count == held.num_rows for column in held.columns)
    everything = b"\n".join(_plain(path) for path in archive.rglob("*") if path.is_file())
    for column in ("observer", "note", "visit_id"):
        for word in {row[column] for row in stored} - {None}:
            assert f"\n{word}\n".encode() not in everything
    ongoing = {"ongoing", "probably fledged", "probably failed"}
    attempts = ds.dataset(archive / "attempts", partitioning="hive").to_table().to_pylist()
    assert not ongoing & {row["fate"] for row in attempts if row["fate"] == "ongoing"}


def test_nests_over_are_the_rows_of_the_public_pages(
    made_trails: dict[str, Path], tmp_path: Path
) -> None:
    trail = made_trails["Alderbeck"]
    parts = read(trail, "nests over")
    assert {name for name, _ in parts} == {"nests", "squares"}
    archive = tmp_path / "archive"
    pool(archive, trail)
    pool(archive, trail, "nests over")
    # What was let go before in full is gone.
    assert {file.split("/")[0] for file in files_of(archive)} == {"nests", "squares"}
    manifest = read_manifest(archive)
    (entry,) = manifest.trails.values()
    assert entry.file_name == ""
    with Trail.open(trail) as opened:
        hidden = str(opened.identity().trail_id)
    assert hidden not in (archive / "manifest.json").read_text()
    # And the other way.
    pool(archive, trail, "coarse")
    assert {file.split("/")[0] for file in files_of(archive)} == {"attempts", "boxes", "visits"}
    assert manifest.trails.keys() == read_manifest(archive).trails.keys()


def test_a_trail_that_shows_nothing_is_pooled_in_full_alone(
    made_trails: dict[str, Path], tmp_path: Path
) -> None:
    trail = Path(shutil.copy(made_trails["Alderbeck"], tmp_path / "trail.gpkg"))
    with Trail.open(trail) as opened:
        rules = opened.settings().public_rules
        opened.change_settings(public_rules=replace(rules, open="no"))
    for release in ("coarse", "nests over"):
        with pytest.raises(BadValue, match="shows nothing to the public"):
            read(trail, release)
    assert read(trail)


def test_the_dictionary_lists_every_column_of_every_file(archive: Path) -> None:
    text = (archive / "dictionary.csv").read_text(encoding="utf-8")
    listed = {(row["table"], row["column"]) for row in csv.DictReader(text.splitlines())}
    for path in archive.rglob("*.parquet"):
        table = path.relative_to(archive).parts[0]
        names = set(parquet.read_schema(path).names) - {"bbox"}
        assert {(table, name) for name in names} <= listed
    for declared in TABLES.values():
        assert set(schema_of(declared).names) == {one.name for one in declared.columns}


DAMAGES: dict[str, Callable[[bytes], bytes]] = {
    "cut short": lambda content: content[: len(content) // 2],
    "one byte changed": lambda content: content[:200] + b"\xff\x00\xff" + content[203:],
    "empty": lambda content: b"",
    "something else": lambda content: b"PAR1" + b"not a file" * 50,
}


@pytest.mark.parametrize("how", DAMAGES)
def test_a_damaged_file_is_named_in_a_sentence(archive: Path, how: str) -> None:
    entry = read_manifest(archive).files[0]
    path = archive / entry.file
    path.write_bytes(DAMAGES[how](path.read_bytes()))
    (fault,) = Archive(archive).faults()
    assert entry.file in fault
    assert "Pool its trails again" in fault
    if how != "one byte changed":
        with pytest.raises(NotATrail, match="is damaged"):
            read_part(archive, entry)


@pytest.mark.parametrize(
    ("text", "match"),
    [
        ("", "is damaged"),
        ("{", "is damaged"),
        ("[]", "is damaged"),
        ('{"format": "boxround archive 9"}', "use the version of Boxround that wrote it"),
        ('{"format": "boxround archive 1"}', "is damaged"),
        (
            json.dumps(
                {
                    "format": "boxround archive 1",
                    "trails": {},
                    "log": [],
                    "files": [
                        {"file": "../../x", "table": "visits", "season": 1, "rows": 1}
                        | {"sha256": "", "trails": {}}
                    ],
                }
            ),
            "outside the archive",
        ),
    ],
)
def test_a_damaged_manifest_is_refused(archive: Path, text: str, match: str) -> None:
    (archive / "manifest.json").write_text(text)
    before = files_of(archive)
    with pytest.raises(NotATrail, match=match):
        Archive(archive).compact()
    assert files_of(archive) == before


def test_a_folder_of_other_things_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "letter.txt").write_text("mine")
    with pytest.raises(StorageFull, match="is no archive and is not empty"):
        Archive(tmp_path).compact()
    assert [path.name for path in tmp_path.iterdir()] == ["letter.txt"]


def test_two_writers_take_turns(archive: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("layers.pooling.archive._WAIT_S", 0.1)
    lock = sqlite3.connect(archive / ".lock", isolation_level=None)
    lock.execute("BEGIN EXCLUSIVE")
    with pytest.raises(TrailBusy, match="Another program is changing"):
        Archive(archive).compact()
    lock.close()
    assert Archive(archive).compact() > 0
