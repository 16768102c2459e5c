"""Backups of a trail in a folder: one a day for some days, then one a month for ten years."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from pathlib import Path

from layers.errors import BadValue
from layers.trail.store import Trail
from layers.trail.whole_files import free_name

MONTHS_KEPT = 120
"""Ten years: a mistake in old records may be noticed late."""

_MOMENT = "%Y-%m-%dT%H%M%SZ"


def back_up_into(trail: Trail, folder: Path, *, now: datetime, keep_days: int | None) -> Path:
    """Write a backup of a trail into a folder, then remove those that have had their time.

    Parameters
    ----------
    keep_days
        The newest backup of each of that many days is kept, and of each of `MONTHS_KEPT`
        months; None = all are kept.

    Raises
    ------
    StorageFull
        It could not be written whole; no older one was removed.
    """
    if keep_days is not None and keep_days < 1:
        raise BadValue("at least 1 day of backups to keep", str(keep_days), column="keep")
    folder.mkdir(parents=True, exist_ok=True)
    stem = trail.path.stem
    target = folder / f"{stem}.{now.astimezone(UTC):{_MOMENT}}.gpkg"
    if target.exists():
        target = free_name(target, "again")
    trail.snapshot(target)
    if keep_days is not None:
        for old in superseded(backups_of(folder, stem), keep_days=keep_days):
            old.unlink(missing_ok=True)
    return target


def moment_of(path: Path, stem: str) -> datetime | None:
    """When a backup was made, by its name; None for any other file."""
    found = re.fullmatch(rf"{re.escape(stem)}\.(\d{{4}}-\d\d-\d\dT\d{{6}}Z)(\..*)?", path.name)
    if found is None or not path.name.endswith(".gpkg"):
        return None
    try:
        return datetime.strptime(found[1], _MOMENT).replace(tzinfo=UTC)
    except ValueError:
        return None


def backups_of(folder: Path, stem: str) -> dict[Path, datetime]:
    """The backups of a trail in a folder, newest first."""
    found = {path: moment_of(path, stem) for path in folder.glob("*.gpkg")}
    made = [(moment, path) for path, moment in found.items() if moment is not None]
    return {path: moment for moment, path in sorted(made, reverse=True)}


def superseded(backups: dict[Path, datetime], *, keep_days: int) -> list[Path]:
    """Backups to remove, of those given newest first."""
    newest_of_day: dict[str, Path] = {}
    newest_of_month: dict[str, Path] = {}
    for path, moment in backups.items():
        newest_of_day.setdefault(f"{moment:%Y-%m-%d}", path)
        newest_of_month.setdefault(f"{moment:%Y-%m}", path)
    kept = {*list(newest_of_day.values())[:keep_days]}
    kept |= {*list(newest_of_month.values())[:MONTHS_KEPT]}
    return [path for path in backups if path not in kept]
