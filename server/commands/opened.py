"""A trail's contents for one command."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path

from layers.trail.store import Trail
from server.clock import Clock
from server.live.contents import Contents


@contextmanager
def opened(path: Path) -> Iterator[tuple[Trail, Contents]]:
    """The open trail, and what it holds; closed when the block ends."""
    with Trail.open(path) as trail:
        yield trail, Contents.read(trail)


def day_or_today(on: date | None, contents: Contents) -> date:
    return on or Clock().today(contents.settings.zone)
