"""Steady heights: what remains of a path's heights once the jitter of a GPS is gone.

The rule: heights are smoothed over 100 m of path by a local parabola (Savitzky and Golay
1964, Analytical Chemistry 36:1627-1639), which leaves ramps and humps as they are where a
plain mean would flatten them; then rises and falls of less than 2 m between two turns are
levelled out. Climb is counted, and slopes are taken, from what remains.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

Floats = NDArray[np.float64]

WINDOW_M = 100.0
"""Length of path over which heights are smoothed. Chosen by trial: 1 m of noise every
5 m then leaves a level kilometre within 1 % of its time."""

STEP_M = 5.0
"""Spacing at which heights are read for smoothing, near that of a recorded track."""

SMALLEST_SWING_M = 2.0
"""A rise or fall between two turns that is smaller than this is taken for jitter."""


def steady_heights(along_m: Floats, height_m: Floats) -> Floats:
    """Heights at the vertices of one path without the jitter.

    Parameters
    ----------
    along_m
        Distance of each vertex from the path's start, rising.
    height_m
        Measured heights; all NaN where there are none, and so is then the result.
    """
    if np.isnan(height_m).any():
        return np.full_like(height_m, np.nan)
    steps = max(int(np.ceil(along_m[-1] / STEP_M)), 1)
    at = np.linspace(0.0, along_m[-1], steps + 1)
    heights = np.interp(at, along_m, height_m)
    # The window is an odd number of readings, and never longer than the path.
    readings = min(round(WINDOW_M / STEP_M) + 1, steps + 1 - steps % 2)
    if readings >= 5:  # a parabola through three readings is the readings
        heights = _smoothed(heights, readings)
    return np.interp(along_m, at, _without_swings(heights))


def _smoothed(heights: Floats, readings: int) -> Floats:
    """Each height from a parabola through the readings around it, an odd number of them.

    Near the ends from the parabola through the first, or the last, readings.
    """
    half = readings // 2
    powers = np.vander(np.arange(-half, half + 1), 3)
    fit = powers @ np.linalg.pinv(powers)
    inner = sliding_window_view(heights, readings) @ fit[half]
    begin, end = fit[:half] @ heights[:readings], fit[half + 1 :] @ heights[-readings:]
    return np.concatenate([begin, inner, end])


def _turns(heights: Floats) -> list[int]:
    """Where the line turns for good: its ends, and turns that `SMALLEST_SWING_M` confirms."""
    turns, low, high = [0], 0, 0
    rising: bool | None = None
    for here, height in enumerate(heights.tolist()):
        if height > heights[high]:
            high = here
        if height < heights[low]:
            low = here
        if rising is not False and heights[high] - height >= SMALLEST_SWING_M:
            turns.append(high)
            rising, low, high = False, here, here
        elif rising is not True and height - heights[low] >= SMALLEST_SWING_M:
            turns.append(low)
            rising, low, high = True, here, here
    return [*turns, len(heights) - 1]


def _without_swings(heights: Floats) -> Floats:
    """Heights that only rise or only fall between two turns."""
    steady = heights.copy()
    turns = _turns(heights)
    for begin, end in pairwise(turns):
        part = heights[begin : end + 1]
        low, high = min(part[0], part[-1]), max(part[0], part[-1])
        onward = np.maximum if part[-1] >= part[0] else np.minimum
        steady[begin : end + 1] = np.clip(onward.accumulate(part), low, high)
    return steady
