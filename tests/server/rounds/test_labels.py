"""Names and marks of the printed map: none over another."""

from __future__ import annotations

from itertools import combinations

import numpy as np

from server.rounds.labels import Area, Labels, pushed_apart

PAGE = Area(0.0, 0.0, 760.0, 500.0)


def test_marks_too_near_to_each_other_are_pushed_apart_and_others_stay() -> None:
    rng = np.random.default_rng(0)
    at = np.concatenate([rng.uniform(300, 340, (12, 2)), [[50.0, 50.0]], [[320.0, 320.0]] * 2])
    moved = pushed_apart(at, 19.0, within=PAGE)
    gaps = [np.linalg.norm(a - b) for a, b in combinations(moved, 2)]
    assert min(gaps) > 18.0
    assert moved[12].tolist() == [50.0, 50.0]
    assert np.abs(moved - at).max() < 80.0


def test_names_lie_over_no_mark_and_no_other_name() -> None:
    rng = np.random.default_rng(1)
    at = rng.uniform(100, 400, (25, 2))
    marks = [Area.around(x, y, 9.0) for x, y in at.tolist()]
    labels = Labels(PAGE, marks, at)
    names = [labels.place(x, y, "Beaver dam") for x, y in at[:12].tolist()]
    placed = [area for area in names if area is not None]
    assert len(placed) >= 10
    assert not any(
        a.meets(b) for a, b in combinations([*marks, *placed], 2) if a in placed or b in placed
    )
    assert all(area.left >= 0 and area.right <= 760 and area.bottom <= 500 for area in placed)


def test_a_name_without_room_has_no_place() -> None:
    assert Labels(Area(0, 0, 40, 40), [], np.empty((0, 2))).place(20, 20, "A long name") is None
