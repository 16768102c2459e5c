"""Many trails in one archive: written, read, taken back, and a season over all of it.

`python -m tests.bench.pool --trails 2000` makes the archive that a research group would have, some
12 million visits; the few trails of the plain call show the same ratios.
"""

from __future__ import annotations

import argparse
import shutil
import tempfile
import time
import uuid
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import replace
from datetime import date
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import duckdb
import numpy as np
import pyarrow as pa

from data_demo.build import build_demo
from layers.nesting.guide import standard_guide
from layers.nesting.histories import read_histories
from layers.pooling.archive import GROUP_TRAILS, Archive, Pooled
from layers.pooling.codes import READ_COLUMNS, joined_visits
from layers.pooling.parquet import read_part
from layers.pooling.season.partitions import compute
from layers.pooling.season.running import runner
from layers.pooling.season.units import Unit, units_of
from layers.pooling.tables import Key, Part
from server.pooling.command import TOGETHER
from server.pooling.source import read_trail
from server.pooling.view import ArchiveQuery, season_of_archive
from tests.bench.clock import heading, line

ON = date(2026, 12, 31)
_SPACE = uuid.UUID("0f6e2a9c-4d0b-5d3a-9a77-61b2f1a0c3de")


def another(pooled: Pooled, number: int) -> Pooled:
    """The trail again under other identifiers, its days moved a little."""
    random = np.random.default_rng(number)

    def renamed(column: Any) -> Any:
        encoded = column.combine_chunks() if isinstance(column, pa.ChunkedArray) else column
        words = [
            None if word is None else str(uuid.uuid5(_SPACE, f"{number} {word}"))
            for word in encoded.dictionary.to_pylist()
        ]
        return pa.DictionaryArray.from_arrays(encoded.indices, pa.array(words, pa.string()))

    parts: dict[Key, Part] = {}
    for (name, season), part in pooled.parts.items():
        for column in ("trail", "box_id"):
            at = part.schema.get_field_index(column)
            part = part.set_column(at, column, renamed(part.column(column)))  # noqa: PLW2901
        if name == "visits":
            day = part.column("seen_on").cast(pa.int32()).to_numpy()
            moved = pa.array(day + random.integers(-1, 2, 1)).cast(pa.int32()).cast(pa.date32())
            part = part.set_column(part.schema.get_field_index("seen_on"), "seen_on", moved)  # noqa: PLW2901
        parts[name, season] = part
    trail = str(uuid.uuid5(_SPACE, f"{number} {pooled.entry.trail}"))
    entry = replace(pooled.entry, trail=trail, name=f"Trail {number}", region=f"{number % 5}")
    return Pooled(entry, parts, frozenset({trail}))


@contextmanager
def seconds() -> Iterator[Callable[[], float]]:
    began = time.perf_counter()
    took: list[float] = []
    yield lambda: took[0]
    took.append(time.perf_counter() - began)


def _on_processes(units: list[Unit], results: Path, count: int) -> float:
    with ProcessPoolExecutor(count, mp_context=get_context("forkserver")) as pool:
        list(pool.map(abs, range(count)))
        with seconds() as took:
            list(pool.map(compute, [(unit, str(results)) for unit in units]))
    return took()


def _on_dask(units: list[Unit], results: Path, count: int) -> float:
    with runner(workers=count, scheduler=None) as run:
        run.map(abs, list(range(count)))
        with seconds() as took:
            run.map(compute, [(unit, str(results)) for unit in units])
    return took()


def main(trails: int = 40) -> None:
    heading(f"An archive of {trails} trails")
    with tempfile.TemporaryDirectory() as folder:
        demo, path = Path(folder) / "demo.gpkg", Path(folder) / "archive"
        build_demo(demo)
        pooled = read_trail(demo, release="full", on=ON)
        archive = Archive(path, group_trails=min(GROUP_TRAILS, max(trails // 8, 1)))
        made = [another(pooled, number) for number in range(trails)]
        with seconds() as written:
            for first in range(0, trails, TOGETHER):
                archive.put(made[first : first + TOGETHER])
        with seconds() as joined:
            archive.compact()
        manifest = archive.manifest()
        visits = sum(one.rows for one in manifest.of_table("visits"))
        size = sum((path / one.file).stat().st_size for one in manifest.of_table("visits"))
        print(f"  {visits:,} visits, {size / visits:.1f} bytes each")
        # Loads what reading needs.
        joined_visits([read_part(path, manifest.of_table("visits")[0], list(READ_COLUMNS))])
        with seconds() as read:
            parts = [
                read_part(path, one, list(READ_COLUMNS)) for one in manifest.of_table("visits")
            ]
            held, _ = joined_visits(parts)
        guide = standard_guide()
        read_histories(held.take(np.arange(1000)), guide, season_starts="01-01")
        with seconds() as histories:
            read_histories(held, guide, season_starts="01-01")
        alone, both = histories(), read() + histories()
        line(f"written, {TOGETHER} trails at a time", written())
        line("joined into groups", joined())
        line("read and turned into attempts", both)
        line(f"attempts alone ({both / alone:.1f} times faster)", alone)
        with seconds() as counted:
            (found,) = duckdb.execute(
                f"SELECT count(*) FROM '{path}/visits/*/*.parquet'"
            ).fetchall()
        assert found == (visits,)
        line("counted by DuckDB", counted())
        units = units_of(path, manifest, on=ON)
        compute((units[0], f"{folder}/warm"))
        ways: dict[str, Callable[[Path], float]] = {
            "plain loop": lambda results: _in_a_loop(units, results),
            "2 plain processes": lambda results: _on_processes(units, results, 2),
            "Dask, 1 worker": lambda results: _on_dask(units, results, 1),
            "Dask, 2 workers": lambda results: _on_dask(units, results, 2),
        }
        took = {name: way(Path(folder) / name) for name, way in ways.items()}
        for name, own_s in took.items():
            line(f"{len(units)} partitions, {name}", own_s)
        print(f"  2 workers against 1: {took['Dask, 1 worker'] / took['Dask, 2 workers']:.2f}")
        results = Path(folder) / "plain loop"
        for by in ("region", "year"):
            query = ArchiveQuery(path, by=by, on=ON, results=results)
            with seconds() as measured:
                season_of_archive(query, lambda done, total, name: None)
            line(f"measures and likelihood by {by}", measured())
        with seconds() as gone:
            archive.take_back(made[0].entry.trail)
        line("one trail taken back", gone())
        shutil.rmtree(path)


def _in_a_loop(units: list[Unit], results: Path) -> float:
    with seconds() as took:
        for unit in units:
            compute((unit, str(results)))
    return took()


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--trails", type=int, default=40)
    main(parser.parse_args().trails)
