"""A made trail of any size: the same nests repeated onto boxes of their own."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from layers.trail.settings import Settings
from layers.trail.store import Trail
from layers.trail.visits import STILL_CURRENT
from tests.many_boxes import many_boxes


def test_boxes_are_as_a_trail_gives_them(tmp_path: Path) -> None:
    boxes, visits = many_boxes(120, seed=1)
    settings = Settings(name="Test", timezone="UTC")
    with Trail.create(tmp_path / "empty.gpkg", settings) as trail:
        expected = trail.boxes()
    assert list(boxes.columns) == list(expected.columns)
    assert boxes.drop(columns="geometry").dtypes.equals(expected.drop(columns="geometry").dtypes)
    assert boxes.crs == expected.crs
    assert tuple(boxes["box"]) == visits.boxes
    assert boxes["box"].is_unique
    assert boxes["box"].is_monotonic_increasing


def test_a_box_repeats_the_visits_of_its_pattern() -> None:
    boxes, visits = many_boxes(2_100, seed=2)
    assert len(boxes) == 2_100
    starts = visits.starts()
    for first, second in ((0, 2_000), (57, 2_057)):
        one = visits.take(np.arange(starts[first], starts[first + 1]))
        two = visits.take(np.arange(starts[second], starts[second + 1]))
        for name in ("day", "minute", "species", "eggs", "signs", "replaced_s"):
            assert np.array_equal(getattr(one, name), getattr(two, name))
        assert not boxes.geometry[first].equals(boxes.geometry[second])


def test_every_row_has_its_own_number_and_order() -> None:
    _, visits = many_boxes(2_100, seed=2)
    assert np.array_equal(visits.row, np.arange(len(visits)))
    assert np.all(np.diff(visits.box) >= 0)
    assert np.any(visits.replaced_s != STILL_CURRENT)


def test_a_box_has_about_ten_visits_a_season_by_default() -> None:
    _, once = many_boxes(300, seed=3)
    _, twice = many_boxes(300, seasons=2, seed=3)
    _, weekly = many_boxes(300, seed=3, interval_days=7)
    assert 9 < len(once) / 300 < 11
    assert 18 < len(twice) / 300 < 22
    assert 19 < len(weekly) / 300 < 23
    assert twice.day.max() - twice.day.min() > 365


def test_the_same_seed_gives_the_same_boxes_and_visits() -> None:
    boxes, visits = many_boxes(100, seed=4)
    again, same = many_boxes(100, seed=4)
    assert boxes.equals(again)
    assert np.array_equal(visits.eggs, same.eggs)
    assert not boxes.equals(many_boxes(100, seed=5)[0])
