"""A season over an archive: partitions computed, then measured."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from layers.errors import BoxroundError, NotATrail
from layers.nesting.guide import standard_guide
from layers.pooling.archive import RESULTS, Archive
from layers.pooling.manifest import Manifest
from layers.pooling.season.groups import ArchiveSeason, Wanted, archive_season
from layers.pooling.season.partitions import compute, forget_others, is_whole, partition_of
from layers.pooling.season.running import runner
from layers.pooling.season.units import Unit, units_of

MOST_NAMES = 5
"""Trails that a sentence on a group names."""

Progress = Callable[[int, int, str], None]
"""Called with partitions done, all of them, and the name of the last."""


@dataclass(frozen=True)
class ArchiveQuery:
    """What is wanted of an archive, and where it is worked on.

    Attributes
    ----------
    results
        Folder for what each partition gives; None = within the archive.
    """

    archive: Path
    by: str = "trail"
    seasons: Sequence[int] | None = None
    species: str | None = None
    on: date | None = None
    workers: int = 0
    scheduler: str | None = None
    results: Path | None = None
    leave_out_broken: bool = False


def season_of_archive(query: ArchiveQuery, progress: Progress) -> ArchiveSeason:
    """The season over an archive, as known on the last day on which one of its trails was pooled.

    Raises
    ------
    NotATrail
        There is no archive, none of its trails lets visits go, or a partition is broken and is
        not to be left out.
    """
    manifest = Archive(query.archive).manifest()
    known = [one.as_known_on for one in manifest.trails.values()]
    on = query.on or date.fromisoformat(max(known, default="1970-01-01"))
    species = query.species and standard_guide().find(query.species).common
    wanted = Wanted.of(manifest.trails, by=query.by, seasons=query.seasons, species=species)
    units = units_of(query.archive.resolve(), manifest, on=on)
    if not units:
        raise NotATrail(
            f"{query.archive} has no visits: its trails release finished nests at most. Pool one "
            "with --release full or coarse."
        )
    results = (query.results or query.archive / RESULTS).resolve()
    partitions = [partition_of(unit, results) for unit in units]
    forget_others(results, partitions)
    with runner(workers=query.workers, scheduler=query.scheduler) as run:
        there = [is_whole(partition) for partition in partitions]
        missing = [unit for unit, whole in zip(units, there, strict=True) if not whole]
        done = sum(there)

        def show(at: int) -> None:
            nonlocal done
            done += 1
            progress(done, len(units), missing[at].name)

        progress(done, len(units), "")
        given = run.try_each(compute, [(unit, str(results)) for unit in missing], show)
        broken = {
            unit.name: f"{unit.name} ({_names(manifest, unit)}): {found}"
            for unit, found in zip(missing, given, strict=True)
            if isinstance(found, BoxroundError)
        }
        if broken and not query.leave_out_broken:
            raise NotATrail(
                "\n".join(broken.values())
                + "\nNothing was computed over the others; --leave-out-broken does that."
            )
        whole = [partition for partition in partitions if partition.name not in broken]
        if not whole:
            raise NotATrail("\n".join(broken.values()))
        return archive_season(whole, wanted, runner=run, left_out=tuple(broken.values()))


def _names(manifest: Manifest, unit: Unit) -> str:
    names = [manifest.trails[trail].name for trail in unit.read_with]
    more = f" and {len(names) - MOST_NAMES} more" if len(names) > MOST_NAMES else ""
    return ", ".join(names[:MOST_NAMES]) + more
