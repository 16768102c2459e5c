"""Many phones save at once; how long it takes is measured by `python -m tests.bench phones`."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from layers.trail.store import Trail
from tests.server.conftest import Process
from tests.server.live.many_phones import while_others_hold


@pytest.mark.slow
@pytest.mark.parametrize(
    ("phones", "readers"), [(6, 30), pytest.param(50, 2_000, marks=pytest.mark.long)]
)
def test_what_many_phones_save_at_once_is_stored_once_each(
    start: Callable[..., Process], trail_path: Path, phones: int, readers: int
) -> None:
    server = start(trail_path, "--on", "2026-06-03")
    saved = while_others_hold(trail_path, server.address, phones=phones, visits=3, readers=readers)
    assert server.stop() == 0
    with Trail.open(trail_path) as trail:
        stored = [row["visit_id"] for row in trail.visit_rows("M05")]
    assert len(saved.visits) == phones * 3
    assert set(saved.visits) <= set(stored)
    assert len(stored) == len(set(stored))
    assert saved.pages == readers
