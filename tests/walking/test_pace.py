"""Paces as settings."""

from __future__ import annotations

import numpy as np
import pytest

from layers.errors import BadValue
from layers.walking.pace import PACES, STEEPEST, Flat, Pace, pace_of


@pytest.mark.parametrize("pace", PACES.values(), ids=PACES.keys())
def test_unknown_heights_count_as_level(pace: Pace) -> None:
    assert pace.minutes([800.0], [np.nan]) == pytest.approx(pace.minutes([800.0], [0.0]))


@pytest.mark.parametrize("pace", PACES.values(), ids=PACES.keys())
def test_a_stretch_of_no_length_takes_no_time(pace: Pace) -> None:
    assert pace.minutes([0.0], [5.0]).tolist() == [0.0]


@pytest.mark.parametrize("pace", PACES.values(), ids=PACES.keys())
@pytest.mark.parametrize("way", [-1.0, 1.0])
def test_a_wall_counts_as_the_steepest_walkable_slope(pace: Pace, way: float) -> None:
    wall = pace.minutes([10.0], [way * 500.0])
    assert wall == pytest.approx(pace.minutes([10.0], [way * STEEPEST * 10.0]))


@pytest.mark.parametrize("name", PACES)
def test_a_pace_is_found_by_its_name_in_any_case(name: str) -> None:
    assert pace_of(f" {name.upper()} ") is PACES[name]


@pytest.mark.parametrize("text", ["4.2", "4.2 km/h"])
def test_a_number_is_a_flat_pace(text: str) -> None:
    assert pace_of(text) == Flat(4.2)


def test_a_misspelt_pace_is_refused_with_the_nearest_named() -> None:
    with pytest.raises(BadValue, match=r"nearest: naismith.*'naismit'"):
        pace_of("naismit")


@pytest.mark.parametrize("kmh", ["0", "-3", "40", "inf"])
def test_a_speed_nobody_walks_is_refused(kmh: str) -> None:
    with pytest.raises(BadValue, match=r"speed from 0\.5 to 15 km/h"):
        pace_of(kmh)


def test_what_is_no_number_is_no_speed() -> None:
    with pytest.raises(BadValue, match="or a walking speed in km/h"):
        pace_of("nan")


@pytest.mark.parametrize(("name", "kmh"), [("relaxed", 4.0), ("normal", 5.0), ("brisk", 6.0)])
def test_the_named_speeds_are_shares_of_toblers(name: str, kmh: float) -> None:
    level, up = PACES[name].minutes([1000.0, 1000.0], [0.0, 100.0]) / PACES["normal"].minutes(
        [1000.0, 1000.0], [0.0, 100.0]
    )
    assert level == pytest.approx(up)
    assert 60.0 / PACES[name].minutes([1000.0], [0.0])[0] == pytest.approx(kmh, abs=0.05)
