"""Trails for what is brought in."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from layers.trail.importing import vector
from layers.trail.importing.proposing import grids
from layers.trail.settings import Settings
from layers.trail.store import Trail
from tests.trail.importing.ready_readers import Ready


@pytest.fixture(scope="module")
def readers(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Ready]:
    """Processes that read foreign files start at once, as forks of one that is ready."""
    with Ready(tmp_path_factory.mktemp("readers")) as ready, pytest.MonkeyPatch.context() as patch:
        patch.setattr(vector, "subprocess", ready)
        patch.setattr(grids, "subprocess", ready)
        yield ready


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[Trail]:
    settings = Settings("Alderbeck", "America/New_York")
    with Trail.create(tmp_path / "empty.gpkg", settings) as made:
        yield made
