"""Units of work: trails whose files are read together, with all of their seasons.

A nest left in a box from the season before is known by the visits of that season, so a trail is
read whole, as its own pages read it.
"""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import numpy as np

from layers.nesting.dating import date_attempts
from layers.nesting.guide import guide_with
from layers.nesting.histories import read_histories
from layers.nesting.season.exposure import season_table
from layers.nesting.season.tables import SeasonTable
from layers.pooling.codes import READ_COLUMNS, WORD_LISTS, joined_visits
from layers.pooling.manifest import FileEntry, Manifest
from layers.pooling.parquet import read_part
from layers.pooling.season.joining import joined_tables
from layers.trail.coding import day_number

ReadWith = tuple[str, str | None]
"""Day on which a trail's season begins, and its own figures of the guide."""

FORMAT = 2
"""Rises when a stored partition means something else."""


@dataclass(frozen=True)
class Unit:
    """Some trails, and the files that hold their visits and no others'.

    Attributes
    ----------
    name
        Of the group of trails, or of the one trail that is in none.
    read_with
        Trail -> what its visits are read with.
    """

    name: str
    archive: str
    files: tuple[FileEntry, ...]
    read_with: Mapping[str, ReadWith]
    on: date

    @property
    def key(self) -> str:
        """Changes with everything that its table depends on."""
        held = [FORMAT, WORD_LISTS, self.on, sorted(self.read_with.items(), key=str)]
        held += [one.file for one in self.files]
        return hashlib.sha256(repr(held).encode()).hexdigest()[:16]


def units_of(archive: Path, manifest: Manifest, *, on: date) -> list[Unit]:
    """All units of an archive, in the order of their names; trails without visits are in none."""
    trails_of: dict[str, list[str]] = defaultdict(list)
    for name, entry in manifest.trails.items():
        trails_of[entry.group or name].append(name)
    files_of: dict[str, list[FileEntry]] = defaultdict(list)
    for one in manifest.of_table("visits"):
        entry = manifest.trails[next(iter(one.trails))]
        files_of[entry.group or entry.trail].append(one)
    return [
        Unit(
            name,
            str(archive),
            tuple(files_of[name]),
            {
                trail: (manifest.trails[trail].season_starts, manifest.trails[trail].guide)
                for trail in sorted(trails_of[name])
            },
            on,
        )
        for name in sorted(files_of)
    ]


def table_of(unit: Unit) -> tuple[SeasonTable, tuple[str, ...]]:
    """The table of a unit's attempts, and the trail of each of its boxes.

    Each trail is read and estimated by itself, as in its own report: the days that its nests take
    are its own, whatever group it is in.

    Raises
    ------
    NotATrail
        A file is missing or damaged.
    """
    parts = [read_part(Path(unit.archive), one, list(READ_COLUMNS)) for one in unit.files]
    visits, trail_of_box = joined_visits(parts)
    visits = visits.take(visits.day <= day_number(unit.on))
    tables, trails = [], []
    for trail, (season_starts, guide) in unit.read_with.items():
        own = visits.of_boxes(np.array([of == trail for of in trail_of_box], bool))
        histories = read_histories(own, guide_with(guide), season_starts=season_starts)
        tables.append(season_table(histories, date_attempts(histories), on=unit.on))
        trails += [trail] * len(own.boxes)
    return joined_tables(tables), tuple(trails)
