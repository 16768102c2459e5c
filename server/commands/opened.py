"""A trail's contents for one command."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from layers.nesting.histories import Histories, read_histories
from layers.trail.store import Trail
from server.clock import Clock
from server.contents import Contents


@contextmanager
def opened(path: Path) -> Iterator[tuple[Trail, Contents]]:
    """The open trail, and what it holds; closed when the block ends."""
    with Trail.open(path) as trail:
        yield trail, Contents.read(trail)


def day_or_today(on: date | None, contents: Contents) -> date:
    return on or Clock().today(contents.settings.zone)


def known_by(trail: Trail, contents: Contents, day: date) -> Histories:
    """Histories from what had been entered by the end of a local day."""
    ends = datetime.combine(day + timedelta(1), datetime.min.time(), contents.settings.zone)
    return read_histories(
        trail.visits(),
        contents.guide,
        season_starts=contents.settings.season_starts,
        known_at_s=int(ends.astimezone(UTC).timestamp()) - 1,
    )
