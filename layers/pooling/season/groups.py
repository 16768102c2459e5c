"""The measures of a season over an archive, for all of it and by trail, region, species or year."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layers.errors import BadValue
from layers.nesting import attempt_columns as c
from layers.nesting.season.clutches import brood_size, clutch_size, hatching_success
from layers.nesting.season.periods import Periods, periods
from layers.nesting.season.regression import NoFit, SurvivalFit, fit_survival
from layers.nesting.season.report.counting import counts_of, survival_of
from layers.nesting.season.report.facts import Counts, Survival
from layers.nesting.season.result import Measure
from layers.nesting.season.tables import SeasonTable
from layers.nesting.timeline import NAME_NOT_RECORDED
from layers.pooling.choices import BY
from layers.pooling.manifest import TrailEntry
from layers.pooling.season.joining import joined_tables
from layers.pooling.season.partitions import Loaded, Partition, load
from layers.pooling.season.running import Runner
from layers.pooling.season.summed import PooledTable

NO_REGION = "region not recorded"
ALL = "all"
_TERMS = {"species": ("stage", "species"), "year": ("stage", "year")}
MAX_LEVELS = 40
"""Groups beyond which no model with a coefficient for each is fitted."""


@dataclass(frozen=True)
class GroupSeason:
    """One group of nests.

    Attributes
    ----------
    trails
        How many trails have nests in it, or boxes that were checked.
    checked
        Boxes checked, each once a season. None for species: a box is of no species.
    """

    group: str
    trails: int
    checked: int | None
    counts: Counts
    survival: Survival
    clutch: Measure
    hatching: Measure
    brood: Measure


@dataclass(frozen=True)
class ArchiveSeason:
    """The season over an archive.

    Attributes
    ----------
    by
        One of `BY`; `groups` are in the order of their names.
    model
        Daily survival by stage and, for species and years, by group.
    left_out
        What could not be read, and was left out as was wanted.
    """

    by: str
    whole: GroupSeason
    groups: tuple[GroupSeason, ...]
    model: SurvivalFit | NoFit
    left_out: tuple[str, ...]


@dataclass(frozen=True)
class Wanted:
    """Which attempts count, and how they are grouped; `region` has that of each trail."""

    by: str
    seasons: tuple[int, ...] | None
    species: str | None
    region: Mapping[str, str]
    label: Mapping[str, str]

    @classmethod
    def of(
        cls,
        trails: Mapping[str, TrailEntry],
        *,
        by: str,
        seasons: Sequence[int] | None,
        species: str | None,
    ) -> Wanted:
        """Raises `BadValue` for a grouping that there is not."""
        if by not in BY:
            raise BadValue(f"one of {', '.join(BY)} for an archive", repr(by), column="by")
        names = [one.name for one in trails.values()]
        return cls(
            by,
            None if seasons is None else tuple(seasons),
            species,
            {trail: one.region or NO_REGION for trail, one in trails.items()},
            {
                # Two trails of one name stay apart.
                trail: one.name if names.count(one.name) == 1 else f"{one.name} ({trail[:8]})"
                for trail, one in trails.items()
            },
        )

    def kept(self, loaded: Loaded) -> NDArray[np.bool_]:
        """Which attempts of a partition count."""
        table = loaded.table
        keep = np.ones(len(table), bool)
        if self.seasons is not None:
            keep &= np.isin(table.rows[:, c.SEASON], self.seasons)
        if self.species is not None:
            names = table.species_names
            code = names.index(self.species) if self.species in names else len(names)
            keep &= table.rows[:, c.SPECIES] == code
        return keep

    def table(self, loaded: Loaded) -> SeasonTable:
        """The attempts of a partition that count, and the boxes checked in these seasons."""
        table = loaded.table.take(self.kept(loaded))
        if self.seasons is None:
            return table
        return replace(table, checked=table.checked[np.isin(table.checked[:, 1], self.seasons)])

    def labels(self, table: SeasonTable, trails: Sequence[str]) -> list[str]:
        """The group of each attempt."""
        if self.by == "species":
            return [name or NAME_NOT_RECORDED for name in table.species()]
        if self.by == "year":
            return table.seasons()
        names = self.region if self.by == "region" else self.label
        return [names[trails[box]] for box in table.rows[:, c.BOX].tolist()]

    def checked_of(self, table: SeasonTable, trails: Sequence[str], group: str) -> int | None:
        """Boxes checked, each once a season, of a group."""
        if self.by == "species" and group != ALL:
            return None
        if group == ALL:
            return len(table.checked)
        if self.by == "year":
            return int(np.sum(table.checked[:, 1] == int(group)))
        names = self.region if self.by == "region" else self.label
        return sum(names[trails[box]] == group for box in table.checked[:, 0].tolist())


def archive_season(
    partitions: Sequence[Partition],
    wanted: Wanted,
    *,
    runner: Runner,
    left_out: Sequence[str] = (),
) -> ArchiveSeason:
    """The measures of all nests and of each group.

    Parameters
    ----------
    partitions
        Stored tables, one at least; they are joined in the order of their names.
    """
    table, trails = pooled_table(partitions, wanted, runner)
    lengths = periods(table)
    labels = wanted.labels(table, trails)
    covariates = {
        "species": np.array(table.species(), object),
        "year": np.array(table.seasons(), object),
    }
    few = len(set(labels)) <= MAX_LEVELS
    terms = _TERMS.get(wanted.by, ("stage",)) if few else ("stage",)
    if wanted.by == "trail":
        # Each trail is in one partition, which has all that is needed.
        work = [(partition, wanted, lengths) for partition in partitions]
        found = [one for own in runner.map(_of_partition, work) for one in own]
        groups = sorted(found, key=lambda one: one.group)
    else:
        groups = list(_groups(table, trails, labels, wanted, lengths))
    return ArchiveSeason(
        by=wanted.by,
        whole=_measured(ALL, table, trails, wanted.checked_of(table, trails, ALL), lengths),
        groups=tuple(groups),
        model=fit_survival(table, covariates, terms=terms),
        left_out=tuple(left_out),
    )


def _of_partition(work: tuple[Partition, Wanted, Periods | None]) -> list[GroupSeason]:
    """The trails of one partition."""
    partition, wanted, lengths = work
    loaded = load(partition, with_courses=True)
    table = wanted.table(loaded)
    labels = wanted.labels(table, loaded.trails)
    return list(_groups(table, loaded.trails, labels, wanted, lengths))


def _groups(
    table: SeasonTable,
    trails: Sequence[str],
    labels: Sequence[str],
    wanted: Wanted,
    lengths: Periods | None,
) -> Iterator[GroupSeason]:
    given = np.array(labels, object)
    for group in sorted(set(labels)):
        own = table.take(given == group)
        # Of one species its own stages count; all else is compared over the same days.
        days = periods(own) if wanted.by == "species" else lengths
        yield _measured(group, own, trails, wanted.checked_of(table, trails, group), days)


def _measured(
    group: str,
    table: SeasonTable,
    trails: Sequence[str],
    checked: int | None,
    lengths: Periods | None,
) -> GroupSeason:
    return GroupSeason(
        group=group,
        trails=len({trails[box] for box in np.unique(table.rows[:, c.BOX]).tolist()}),
        checked=checked,
        counts=counts_of(table),
        survival=survival_of(table, lengths),
        clutch=clutch_size(table),
        hatching=hatching_success(table),
        brood=brood_size(table),
    )


def pooled_table(
    partitions: Sequence[Partition], wanted: Wanted, runner: Runner
) -> tuple[PooledTable, tuple[str, ...]]:
    """All attempts that count as one table, and the trail of each box."""
    in_order = sorted(partitions, key=lambda one: one.name)
    tables: list[SeasonTable] = []
    trails: list[str] = []
    sizes: list[int] = []
    has_terms, sources, places = [], [], []
    for at, partition in enumerate(in_order):
        loaded = load(partition, with_courses=False)
        keep = wanted.kept(loaded)
        tables.append(wanted.table(loaded))
        trails.extend(loaded.trails)
        has_terms.append(loaded.has_terms[keep])
        places.append(np.flatnonzero(keep))
        sources.append(np.full(int(keep.sum()), at))
        sizes.append(len(keep))
    joined = joined_tables(tables)
    held: dict[str, Any] = dict(vars(joined))
    return (
        PooledTable(
            **held,
            partitions=tuple(in_order),
            sizes=tuple(sizes),
            source=np.concatenate(sources),
            place=np.concatenate(places),
            has_terms=np.concatenate(has_terms),
            runner=runner,
        ),
        tuple(trails),
    )
