"""How fast rounds were walked, from the times of visits and the ways between the boxes.

From one visit of a walk to the next it takes the minutes at one box and those on foot. A line of
minutes over metres is fitted by the median of all slopes (Theil 1950; Sen 1968, Journal of the
American Statistical Association 63:1379-1389), which lunch and rides by car hardly move. Legs
far from the line are left out, and one of least squares is fitted to the others, since times
rounded to five minutes have few medians.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.stats import linregress, theilslopes

Floats = NDArray[np.float64]

LEAST_LEGS = 200
"""With fewer legs no pace is given; `MOST_ERROR` mostly asks for more."""

LEAST_WALKS = 5
"""Fewer walks are a matter of those days."""

LONGEST_MINUTES = 60.0
"""A longer leg has a break in it, or visits that are not recorded."""

FAR = 2.5
"""Legs this many standard deviations from the line, as by the median deviation, are left out."""

MOST_ERROR = 0.04
"""No pace is given where the standard error of a figure is a larger share of it: so an error of
10 % is rare, and 400 to 800 legs are needed where times are rounded to five minutes."""


@dataclass(frozen=True)
class LearntPace:
    """Minutes a kilometre on foot and at a box, and the legs and walks that they are from."""

    minutes_per_km: float
    minutes_at_box: float
    legs: int
    walks: int


def learnt_pace(minutes: ArrayLike, length_m: ArrayLike, walk: ArrayLike) -> LearntPace | None:
    """The pace of walks, None where too few legs show it clearly.

    Parameters
    ----------
    minutes, length_m, walk
        For each leg the minutes from one visit to the next, the metres between the two boxes on
        foot, infinite where no way leads, and a number of its walk. A walk with as many legs of
        no minutes as others was written down in one go and is left out.
    """
    took, metres = np.asarray(minutes, np.float64), np.asarray(length_m, np.float64)
    walks, number = np.unique(np.asarray(walk), return_inverse=True)
    moved = np.bincount(number, weights=took > 0.0, minlength=len(walks))
    timed = moved > np.bincount(number, minlength=len(walks)) / 2.0
    keep = timed[number] & np.isfinite(metres) & (took >= 0.0) & (took <= LONGEST_MINUTES)
    took, km, number = took[keep], metres[keep] / 1000.0, number[keep]
    if len(took) < LEAST_LEGS or np.ptp(km) == 0.0:
        return None
    slope = theilslopes(took, km)[0]
    off = took - slope * km
    for _ in range(3):
        away = np.abs(off - np.median(off))
        near = away <= FAR * max(1.4826 * float(np.median(away)), 0.5)
        line = linregress(km[near], took[near])
        off = took - line.slope * km - line.intercept
    count = len(np.unique(number[near]))
    enough = near.sum() >= LEAST_LEGS and count >= LEAST_WALKS
    figures = ((line.slope, line.stderr), (line.intercept, line.intercept_stderr))
    if not (enough and all(0.0 < error <= MOST_ERROR * value for value, error in figures)):
        return None
    return LearntPace(float(line.slope), float(line.intercept), int(near.sum()), count)
