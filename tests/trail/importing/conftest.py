"""Trails for what is brought in."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from layers.trail.settings import Settings
from layers.trail.store import Trail


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[Trail]:
    settings = Settings("Alderbeck", "America/New_York")
    with Trail.create(tmp_path / "empty.gpkg", settings) as made:
        yield made
