"""A season over an archive is that of all its visits read at once, however it is shared out."""

from __future__ import annotations

import json
import math
import os
import shutil
import signal
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from layers.errors import BadValue, NotATrail
from layers.nesting.dating import date_attempts
from layers.nesting.guide import standard_guide
from layers.nesting.histories import read_histories
from layers.nesting.season.clutches import brood_size, clutch_size, hatching_success
from layers.nesting.season.exposure import season_table
from layers.nesting.season.periods import periods
from layers.nesting.season.regression import SurvivalFit, fit_survival
from layers.nesting.season.report.counting import counts_of, survival_of
from layers.nesting.season.tables import SeasonTable
from layers.pooling.archive import RESULTS, Archive
from layers.pooling.choices import BY
from layers.pooling.manifest import read_manifest
from layers.pooling.season.groups import ALL, ArchiveSeason
from layers.pooling.season.joining import joined_tables
from layers.pooling.season.partitions import Partition, load
from layers.pooling.season.running import PlainLoop, runner
from layers.trail.coding import code_visits
from layers.trail.store import Trail
from server.command import main
from server.pooling.source import read_trail
from server.pooling.view import ArchiveQuery, season_of_archive
from tests.pooling.conftest import NAMES, ON, SECTIONS

REGIONS = {name: "south" if SECTIONS[name] in "MO" else "north" for name in NAMES}


def over(archive: Path, by: str = "trail", **more: Any) -> ArchiveSeason:
    return season_of_archive(
        ArchiveQuery(archive=archive, by=by, **more), lambda done, total, name: None
    )


@pytest.fixture(scope="module")
def pooled(
    made_trails: dict[str, Path], tmp_path_factory: pytest.TempPathFactory
) -> tuple[Path, dict[str, str]]:
    """An archive of all three in groups of one, so that a season over it has three partitions."""
    path = tmp_path_factory.mktemp("pooled") / "archive"
    every = [read_trail(trail, release="full", on=ON) for trail in made_trails.values()]
    Archive(path, group_trails=1).put(every)
    return path, {name: one.entry.trail for name, one in zip(made_trails, every, strict=True)}


@pytest.fixture(scope="module")
def by_region(pooled: tuple[Path, dict[str, str]]) -> ArchiveSeason:
    """The season of the archive of three trails; its partitions stay with it."""
    return over(pooled[0], "region")


@pytest.fixture
def archive(pooled: tuple[Path, dict[str, str]], by_region: ArchiveSeason, tmp_path: Path) -> Path:
    """A copy of the archive with the partitions of an earlier run."""
    return Path(shutil.copytree(pooled[0], tmp_path / "archive"))


@pytest.fixture(scope="module")
def at_once(made_trails: dict[str, Path]) -> SeasonTable:
    """The visits of the trails' own files, each read as by its own report; nothing of the archive
    is used.
    """
    tables = []
    for name, path in made_trails.items():
        with Trail.open(path) as trail:
            own = trail.visit_rows(current=False)
            settings = trail.settings()
        visits = code_visits(
            [row | {"box": f"{name}/{row['box']}"} for row in own],
            boxes=(),
            timezone=settings.zone,
            signs_words=settings.words("signs"),
            actions_words=settings.words("actions"),
        )
        histories = read_histories(visits, standard_guide(), season_starts=settings.season_starts)
        tables.append(season_table(histories, date_attempts(histories), on=ON))
    return joined_tables(tables)


def labels_of(table: SeasonTable, by: str) -> list[str]:
    if by == "species":
        return [name or "species not recorded" for name in table.species()]
    if by == "year":
        return table.seasons()
    trails = [table.boxes[box].split("/")[0] for box in table.rows[:, 0].tolist()]
    return trails if by == "trail" else [REGIONS[name] for name in trails]


def expect_alike(found: Any, wanted: Any, what: str) -> None:
    """Numbers to 1e-9 of their size, all else the same."""
    if is_dataclass(wanted) and not isinstance(wanted, type):
        assert type(found) is type(wanted), what
        for one in fields(wanted):
            expect_alike(getattr(found, one.name), getattr(wanted, one.name), f"{what}.{one.name}")
    elif isinstance(wanted, float | np.floating):
        assert math.isclose(found, wanted, rel_tol=1e-9, abs_tol=1e-9), (what, found, wanted)
    elif isinstance(wanted, np.ndarray):
        assert np.allclose(found, wanted, rtol=1e-9, atol=1e-9), what
    elif isinstance(wanted, tuple | list):
        assert len(found) == len(wanted), what
        for at, (one, other) in enumerate(zip(found, wanted, strict=True)):
            expect_alike(one, other, f"{what}[{at}]")
    elif isinstance(wanted, dict):
        assert found.keys() == wanted.keys(), what
        for name, value in wanted.items():
            expect_alike(found[name], value, f"{what}[{name}]")
    else:
        assert found == wanted, what


@pytest.mark.parametrize(
    "by", ["region", *(pytest.param(by, marks=pytest.mark.long) for by in BY if by != "region")]
)
def test_it_is_that_of_all_trails_in_one_table(
    archive: Path, at_once: SeasonTable, by: str
) -> None:
    found = over(archive, by)
    lengths = periods(at_once)
    groups = at_once.grouped(labels_of(at_once, by)) | {ALL: at_once}
    assert [one.group for one in found.groups] == sorted(groups.keys() - {ALL})
    assert sum(one.counts.attempts for one in found.groups) == found.whole.counts.attempts
    for one in (*found.groups, found.whole):
        table = groups[one.group]
        own = periods(table) if by == "species" and one.group != ALL else lengths
        expect_alike(one.counts, counts_of(table), one.group)
        expect_alike(one.survival, survival_of(table, own), one.group)
        expect_alike(one.clutch.estimate, clutch_size(table).estimate, one.group)
        expect_alike(one.hatching.estimate, hatching_success(table).estimate, one.group)
        expect_alike(one.brood.estimate, brood_size(table).estimate, one.group)
    assert found.whole.checked == len(at_once.checked)


@pytest.mark.long
def test_the_model_is_that_of_all_visits_read_at_once(archive: Path, at_once: SeasonTable) -> None:
    found = over(archive, "year").model
    year = {"year": np.array(at_once.seasons(), object)}
    wanted = fit_survival(at_once, year, terms=("stage", "year"))
    assert isinstance(found, SurvivalFit)
    assert isinstance(wanted, SurvivalFit)
    # Levels of one size may come in another order: coefficients by their names.
    assert found.log_likelihood == pytest.approx(wanted.log_likelihood, rel=1e-9)
    by_name = {one.name: one for one in wanted.coefficients if one.estimable}
    shared = [one for one in found.coefficients if one.name in by_name and one.estimable]
    assert shared
    for one in shared:
        assert one.estimate == pytest.approx(by_name[one.name].estimate, rel=1e-6)


def test_trails_of_one_group_give_the_same(
    made_trails: dict[str, Path], tmp_path: Path, by_region: ArchiveSeason
) -> None:
    path = tmp_path / "grouped"
    Archive(path).put([read_trail(one, release="full", on=ON) for one in made_trails.values()])
    after = over(path, "region")
    assert len(list((path / RESULTS).iterdir())) == 1
    expect_alike(after.whole, by_region.whole, "whole")
    expect_alike(after.groups, by_region.groups, "groups")


@pytest.mark.long
def test_a_year_or_a_species_counts_alone(archive: Path) -> None:
    every = over(archive, "year")
    one = over(archive, "trail", seasons=(2025,))
    (year,) = (group for group in every.groups if group.group == "2025")
    assert one.whole.counts == year.counts
    assert one.whole.checked == year.checked
    by_species = over(archive, "species")
    name = max(by_species.groups, key=lambda group: group.counts.attempts).group
    alone = over(archive, "trail", species=name)
    (wanted,) = (group for group in by_species.groups if group.group == name)
    assert alone.whole.counts == wanted.counts
    expect_alike(alone.whole.survival, wanted.survival, name)


def test_what_is_there_is_not_computed_again(archive: Path, by_region: ArchiveSeason) -> None:
    stored = {path.name: path.stat().st_mtime_ns for path in (archive / RESULTS).iterdir()}
    assert len(stored) == len(NAMES)
    # A file cut short, as by a full disk, is computed anew.
    lost, short, *_ = sorted((archive / RESULTS).iterdir())
    lost.unlink()
    short.write_bytes(short.read_bytes()[:1000])
    seen: list[tuple[int, int, str]] = []
    again = season_of_archive(ArchiveQuery(archive, by="region"), lambda *given: seen.append(given))
    assert again == by_region
    assert [done for done, _, _ in seen] == [1, 2, 3]
    kept = {path.name: path.stat().st_mtime_ns for path in (archive / RESULTS).iterdir()}
    assert kept.keys() == stored.keys()
    assert sum(kept[name] == stored[name] for name in kept) == 1


def test_taking_a_trail_back_removes_what_was_computed_of_it(
    archive: Path, ids: dict[str, str]
) -> None:
    Archive(archive).take_back(ids[NAMES[0]])
    assert not (archive / RESULTS).exists()
    found = over(archive)
    assert [one.group for one in found.groups] == list(NAMES[1:])


def test_a_broken_partition_is_named_and_left_out_only_when_told_to(
    archive: Path, ids: dict[str, str], capsys: pytest.CaptureFixture[str]
) -> None:
    shutil.rmtree(archive / RESULTS)
    broken = ids[NAMES[1]]
    entry = next(one for one in read_manifest(archive).of_table("visits") if broken in one.trails)
    path = archive / entry.file
    path.write_bytes(path.read_bytes()[:500])
    with pytest.raises(NotATrail, match=rf"group00002 \({NAMES[1]}\): .* is damaged") as raised:
        over(archive)
    assert "--leave-out-broken" in str(raised.value)
    assert main(["season", str(archive), "--leave-out-broken"]) == 0
    out = capsys.readouterr().out
    assert f"Left out: group00002 ({NAMES[1]}): " in out
    assert [line.split()[0] for line in out.splitlines()[1:4]] == [NAMES[0], NAMES[2], ALL]


def test_the_command_shows_groups_and_gives_json(
    archive: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["season", str(archive), "--by", "trail", "--year", "2026"]) == 0
    out = capsys.readouterr().out
    assert {line.split()[0] for line in out.splitlines()[1:5]} == {*NAMES, "all"}
    assert main(["season", str(archive), "--year", "2026", "--json"]) == 0
    record = json.loads(capsys.readouterr().out)
    assert record["by"] == "trail"
    assert record["whole"]["survival"]["success"]["interval"]["level"] == 0.95
    assert main(["season", str(archive), "--by", "guard"]) == 2
    assert "one of trail, region, species, year" in capsys.readouterr().err


def test_an_archive_of_public_rows_alone_says_what_to_do(
    tmp_path: Path, made_trails: dict[str, Path]
) -> None:
    pooled = ["pool", str(made_trails[NAMES[0]]), "-o", str(tmp_path / "a"), "--on", str(ON)]
    assert main([*pooled, "--release", "nests over"]) == 0
    with pytest.raises(NotATrail, match="Pool one with --release full or coarse"):
        over(tmp_path / "a")


def test_stored_tables_hold_no_code(archive: Path) -> None:
    path = next((archive / RESULTS).iterdir())
    with np.load(path, allow_pickle=False) as held:
        assert all(held[name].dtype != object for name in held.files)
    slim = load(Partition("x", str(path)), with_courses=False)
    whole = load(Partition("x", str(path)), with_courses=True)
    assert len(slim.table.courses.nest) == 0
    assert (slim.has_terms == whole.table.courses.weighed).all()


def test_without_workers_nothing_of_dask_is_loaded() -> None:
    with runner(workers=0, scheduler=None) as run:
        assert isinstance(run, PlainLoop)


@pytest.mark.filterwarnings("ignore")
def test_an_address_without_a_scheduler_is_refused(archive: Path) -> None:
    with pytest.raises(BadValue, match="the address of a Dask scheduler"):
        over(archive, scheduler="not an address")


def _squared(item: tuple[int, str]) -> int:
    """Ends its worker at the first call for 3."""
    number, mark = item
    path = Path(mark) / str(number)
    if number == 3 and not path.exists():
        path.touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return number * number


@contextmanager
def workers(count: int) -> Iterator[Any]:
    with runner(workers=count, scheduler=None) as run:
        yield run


@pytest.mark.long
@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("count", [1, 2, 4])
def test_workers_give_the_same_bits_as_one_process(
    archive: Path, by_region: ArchiveSeason, count: int
) -> None:
    assert over(archive, "region", workers=count) == by_region


@pytest.mark.long
@pytest.mark.filterwarnings("ignore")
def test_workers_compute_the_partitions_and_a_scheduler_too(
    archive: Path, by_region: ArchiveSeason
) -> None:
    from distributed import LocalCluster  # noqa: PLC0415 - slow to load

    for path in (archive / RESULTS).iterdir():
        path.unlink()
    with LocalCluster(
        n_workers=2, threads_per_worker=1, dashboard_address=None, memory_limit=0
    ) as cluster:
        assert over(archive, "region", scheduler=cluster.scheduler_address) == by_region
    assert len(list((archive / RESULTS).iterdir())) == len(NAMES)


@pytest.mark.long
@pytest.mark.filterwarnings("ignore")
def test_what_a_killed_worker_had_is_done_again(tmp_path: Path) -> None:
    with workers(2) as run:
        items = [(number, str(tmp_path)) for number in range(8)]
        assert run.map(_squared, items) == [number * number for number in range(8)]
