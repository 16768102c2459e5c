"""Climb from heights that a GPS measured."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import savgol_filter

from layers.walking.network.heights import _smoothed, steady_heights
from layers.walking.pace import NORMAL

Floats = NDArray[np.float64]
ALONG = np.arange(0.0, 1001.0, 5.0)


def climb_m(heights: Floats) -> float:
    return float(np.maximum(np.diff(heights), 0.0).sum())


def noisy(heights: Floats, seed: int) -> Floats:
    """Heights with 1 m of noise every 5 m."""
    return heights + np.random.default_rng(seed).normal(0.0, 1.0, len(heights))


@pytest.mark.parametrize("seed", range(10))
def test_jitter_on_the_level_adds_next_to_no_climb_and_no_time(seed: int) -> None:
    steady = steady_heights(ALONG, noisy(np.zeros_like(ALONG), seed))
    assert climb_m(steady) < 3.0
    raw, flat = (
        float(NORMAL.minutes(np.diff(ALONG), np.diff(heights)).sum())
        for heights in (noisy(np.zeros_like(ALONG), seed), np.zeros_like(ALONG))
    )
    assert float(NORMAL.minutes(np.diff(ALONG), np.diff(steady)).sum()) == pytest.approx(
        flat, rel=0.015
    )
    assert raw > 1.5 * flat


@pytest.mark.parametrize("seed", range(10))
@pytest.mark.parametrize(
    "corners",
    [
        [(0, 0), (400, 0), (600, 10), (1000, 10)],
        [(0, 0), (900, 0), (1000, 10)],
        [(0, 0), (400, 0), (500, 10), (600, 0), (1000, 0)],
    ],
    ids=["ramp", "ramp at the end", "hump"],
)
def test_a_climb_of_ten_metres_survives_the_jitter(
    corners: list[tuple[float, float]], seed: int
) -> None:
    true = np.interp(ALONG, *np.array(corners, np.float64).T)
    assert climb_m(steady_heights(ALONG, noisy(true, seed))) == pytest.approx(10.0, abs=3.5)


def test_exact_heights_of_a_ramp_are_kept() -> None:
    ramp = np.linspace(20.0, 80.0, len(ALONG))
    assert steady_heights(ALONG, ramp) == pytest.approx(ramp, abs=1e-6)


def test_a_swing_of_less_than_two_metres_is_levelled_out() -> None:
    wave = 0.9 * np.sin(ALONG / 60.0)
    assert climb_m(steady_heights(ALONG, wave)) < 1.0


def test_swings_of_more_are_kept() -> None:
    wave = 5.0 * np.sin(ALONG / 100.0)
    assert climb_m(steady_heights(ALONG, wave)) == pytest.approx(climb_m(wave), rel=0.05)


@pytest.mark.parametrize("length_m", [1.0, 12.0, 40.0])
def test_a_path_shorter_than_the_window_keeps_its_rise(length_m: float) -> None:
    assert climb_m(steady_heights(np.array([0.0, length_m]), np.array([5.0, 9.0]))) == (
        pytest.approx(4.0, abs=1e-6)
    )


@pytest.mark.parametrize("readings", [5, 11, 21])
def test_smoothing_is_that_of_savitzky_and_golay(readings: int) -> None:
    heights = np.random.default_rng(2).normal(0.0, 3.0, 80)
    expected = savgol_filter(heights, readings, polyorder=2, mode="interp")
    assert _smoothed(heights, readings) == pytest.approx(expected, abs=1e-9)


def test_no_heights_stay_none() -> None:
    assert np.isnan(steady_heights(ALONG, np.full_like(ALONG, np.nan))).all()
