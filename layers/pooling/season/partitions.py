"""Partitions: the table of each unit, stored under a name of its own.

What is stored is not computed again, so a run that was stopped goes on where it was. The courses of
nests are most of a table (about 5 kB of 6 kB a nest) and are read only where the likelihood is.
"""

from __future__ import annotations

import os
import zipfile
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layers.errors import StorageFull
from layers.nesting.season.broods import BroodCounts
from layers.nesting.season.courses import Courses
from layers.nesting.season.intervals import Intervals
from layers.nesting.season.tables import SeasonTable
from layers.pooling.season.units import Unit, table_of

_NESTED = {"intervals": Intervals, "courses": Courses, "broods": BroodCounts}
_TEXTS = ("boxes", "species_names")
_TERMS = ("nest", "end", "egg_days", "young_days", "weight")


@dataclass(frozen=True)
class Partition:
    """A stored table: its unit's name and its file."""

    name: str
    path: str


def partition_of(unit: Unit, results: Path) -> Partition:
    """Where the table of a unit is, or will be."""
    return Partition(unit.name, str(results / f"{unit.name}-{unit.key}.npz"))


def compute(work: tuple[Unit, str]) -> str:
    """Compute the table of a unit into a results folder; its name."""
    unit, results = work
    partition = partition_of(unit, Path(results))
    if not is_whole(partition):
        table, trails = table_of(unit)
        _store(table, trails, Path(partition.path))
    return unit.name


def is_whole(partition: Partition) -> bool:
    """Whether it is there; a file that was cut short is not."""
    return zipfile.is_zipfile(partition.path)


def forget_others(results: Path, partitions: Iterable[Partition]) -> None:
    """Remove stored tables of what the archive no longer holds."""
    wanted = {Path(one.path).name for one in partitions}
    for path in results.glob("*.npz*"):
        if path.name not in wanted:
            path.unlink(missing_ok=True)


def _store(table: SeasonTable, trails: tuple[str, ...], path: Path) -> None:
    held: dict[str, Any] = {
        "trails": np.array(trails, np.str_),
        "has_terms": table.courses.weighed,
    }
    for name, value in vars(table).items():
        if name in _NESTED:
            held |= {f"{name}.{one}": array for one, array in vars(value).items()}
        elif name in _TEXTS:
            held[name] = np.array(value, np.str_)
        elif isinstance(value, np.ndarray):
            held[name] = value
    part = path.with_name(f"{path.name}.{os.getpid()}")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with part.open("wb") as file:
            np.savez(file, **held)
        part.replace(path)
    except OSError as error:
        raise StorageFull(f"{path} cannot be written: {error.strerror or error}") from error


@dataclass(frozen=True)
class Loaded:
    """A stored table, the trail of each box, and of each attempt whether any course is known."""

    table: SeasonTable
    trails: tuple[str, ...]
    has_terms: NDArray[np.bool_]


def load(partition: Partition, *, with_courses: bool) -> Loaded:
    """What is stored; the table has no courses unless they are needed."""
    with np.load(partition.path, allow_pickle=False) as held:
        nested: dict[str, Any] = {}
        for name, kind in _NESTED.items():
            of_kind = [one for one in held.files if one.startswith(f"{name}.")]
            arrays = {}
            for one in of_kind:
                column = one.removeprefix(f"{name}.")
                left = name == "courses" and column in _TERMS and not with_courses
                arrays[column] = np.zeros(0, _dtype_of(column)) if left else held[one]
            nested[name] = kind(**arrays)
        plain: dict[str, Any] = {
            name: held[name]
            for name in held.files
            if "." not in name and name not in (*_TEXTS, "trails", "has_terms")
        }
        texts: dict[str, Any] = {name: tuple(held[name].tolist()) for name in _TEXTS}
        table = SeasonTable(**texts, **plain, **nested)
        return Loaded(table, tuple(held["trails"].tolist()), held["has_terms"])


def _dtype_of(column: str) -> Any:
    return np.float64 if column == "weight" else np.int64
