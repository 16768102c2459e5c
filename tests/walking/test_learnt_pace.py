"""The pace of walks that were made up with a known one."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pytest

from layers.walking.learnt_pace import LEAST_LEGS, LearntPace, learnt_pace


class Legs(NamedTuple):
    minutes: list[float]
    length_m: list[float]
    walk: list[int]


def walked(
    seed: int,
    *,
    min_km: float = 18.0,
    at_box: float = 6.0,
    walks: int = 60,
    rounded_to: float = 5.0,
    odd: bool = True,
) -> Legs:
    """Walks of 16 boxes with noise, and if `odd` with breaks, car rides and missing times."""
    rng = np.random.default_rng(seed)
    legs = Legs([], [], [])
    for walk in range(walks):
        metres = rng.gamma(2.0, 150.0, 15)
        stay = np.maximum(rng.normal(at_box, 0.3 * at_box, 15), 1.0)
        took = stay + metres / 1000.0 * min_km * rng.lognormal(0.0, 0.12, 15)
        if odd:
            took += np.where(rng.random(15) < 0.06, rng.uniform(15.0, 60.0, 15), 0.0)
            took = np.where(rng.random(15) < 0.04, stay + metres / 1000.0 * 2.0 + 1.0, took)
        times = np.round((540.0 + np.r_[0.0, np.cumsum(took)]) / rounded_to) * rounded_to
        along = np.r_[0.0, np.cumsum(metres)]
        # Of one visit in three walks the time is missing: a leg leads by that box.
        known = np.delete(np.arange(16), rng.integers(1, 15) if odd and walk % 3 == 0 else [])
        legs.minutes.extend(np.diff(times[known]).tolist())
        legs.length_m.extend(np.diff(along[known]).tolist())
        legs.walk.extend([walk] * (len(known) - 1))
    return legs


@pytest.mark.parametrize(("min_km", "at_box"), [(18.0, 6.0), (25.0, 10.0), (13.0, 5.0)])
@pytest.mark.parametrize("rounded_to", [1.0, 5.0])
@pytest.mark.parametrize("odd", [False, True])
def test_a_known_pace_is_learnt_within_a_tenth(
    min_km: float, at_box: float, rounded_to: float, odd: bool
) -> None:
    paces = [
        learnt_pace(
            *walked(seed, min_km=min_km, at_box=at_box, walks=80, rounded_to=rounded_to, odd=odd)
        )
        for seed in range(4)
    ]
    found = [pace for pace in paces if pace is not None]
    assert len(found) >= 3
    for pace in found:
        assert pace.minutes_per_km == pytest.approx(min_km, rel=0.1)
        assert pace.minutes_at_box == pytest.approx(at_box, rel=0.1)


def test_lunch_and_cars_would_spoil_a_plain_line() -> None:
    legs = walked(0)
    slope, at_box = np.polyfit(np.array(legs.length_m) / 1000.0, legs.minutes, 1)
    assert abs(at_box / 6.0 - 1.0) > 0.2 or abs(slope / 18.0 - 1.0) > 0.2
    assert isinstance(learnt_pace(*legs), LearntPace)


def test_too_few_legs_or_walks_give_no_pace() -> None:
    legs = walked(1, rounded_to=1.0, odd=False)
    few = LEAST_LEGS - 1
    assert learnt_pace(legs.minutes[:few], legs.length_m[:few], legs.walk[:few]) is None
    assert learnt_pace(legs.minutes, legs.length_m, [0] * len(legs.walk)) is None
    assert learnt_pace([], [], []) is None


def test_boxes_all_as_far_from_each_other_show_no_pace() -> None:
    legs = walked(2)
    assert learnt_pace(legs.minutes, [200.0] * len(legs.walk), legs.walk) is None


def test_walks_written_down_in_one_go_and_ways_that_lead_nowhere_count_for_nothing() -> None:
    legs = walked(3, rounded_to=1.0, odd=False)
    more = Legs(
        [*legs.minutes, *[0.0] * 500, *[9.0] * 50],
        [*legs.length_m, *[300.0] * 500, *[np.inf] * 50],
        [*legs.walk, *[900] * 500, *[901] * 50],
    )
    assert learnt_pace(*more) == learnt_pace(*legs)
