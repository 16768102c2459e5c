"""Means of counts in nests, with an interval that allows for nests of a box being alike."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layers.nesting.season.result import TAIL, Interval

# Draws of the bootstrap; 2000 give ends of an interval to about a hundredth of its width
# (Efron & Tibshirani 1993, An Introduction to the Bootstrap, from memory).
DRAWS = 2000

SEED = 1
"""Of every bootstrap: the same trail gives the same report."""


@dataclass(frozen=True)
class Mean:
    """A mean or a ratio of sums, its standard error and bootstrap interval.

    `standard_error` and `interval` are None where one box alone has cases.
    """

    value: float
    standard_error: float | None
    interval: Interval | None


def mean_of(
    tops: NDArray[np.int64],
    bottoms: NDArray[np.int64],
    groups: NDArray[np.int64],
    *,
    seed: int = SEED,
) -> Mean:
    """The sum of the tops over the sum of the bottoms, drawn anew by whole groups.

    Parameters
    ----------
    tops, bottoms
        One a case: a count and 1 for a mean, hatched young and eggs for a ratio. The
        bottoms sum to more than 0.
    groups
        The box of each case, as a code: a draw takes or leaves all cases of a box.
    seed
        Of the draws: measures leave it, so that the same trail gives the same interval.

    Notes
    -----
    The standard error is that of a ratio of sums over groups: with residuals
    r = top - value * bottom summed by group, sqrt(G / (G - 1) * sum(r**2)) / sum(bottom).
    With one case a group and bottoms of 1 it is the usual standard deviation / sqrt(n).
    """
    _, group = np.unique(groups, return_inverse=True)
    by_group = np.column_stack(
        [np.bincount(group, weights=tops), np.bincount(group, weights=bottoms)]
    )
    size = len(by_group)
    top, bottom = by_group.sum(axis=0)
    value = float(top / bottom)
    if size < 2:
        return Mean(value, None, None)
    residuals = by_group[:, 0] - value * by_group[:, 1]
    error = math.sqrt(size / (size - 1) * float(residuals @ residuals)) / float(bottom)

    # Groups with the same sums are alike, so a draw is how often each kind comes up.
    kinds, times = np.unique(by_group, axis=0, return_counts=True)
    drawn = np.random.default_rng(seed).multinomial(size, times / size, size=DRAWS) @ kinds
    drawn = drawn[drawn[:, 1] > 0]
    low, high = np.quantile(drawn[:, 0] / drawn[:, 1], (TAIL, 1 - TAIL))
    method = f"bootstrap of boxes, percentiles of {DRAWS} draws"
    return Mean(value, error, Interval(float(low), float(high), method))
