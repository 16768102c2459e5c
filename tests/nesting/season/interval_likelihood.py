"""The likelihood of losses in intervals, in daily hazards of the egg and the young stage.

A nest lives through a day with chance exp(-hazard). An interval of a days with eggs and
b with young is lived through with exp(-(a e + b y)); otherwise the nest was lost in it.
With one hazard for both this is the likelihood of Johnson 1979. The log likelihood is
concave in the hazards, so every search below is for the one zero of a falling slope.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layers.nesting.season.intervals import Intervals
from layers.nesting.season.result import NORMAL_95

# A hazard beyond which nothing lives to the next day: exp(-50) is 2e-22.
MOST = 50.0
_NEAR_ZERO = 1e-12

Hazards = NDArray[np.float64]


@dataclass(frozen=True)
class IntervalLikelihood:
    """Days lived through, and the intervals with a loss, alike ones counted together.

    Attributes
    ----------
    survived
        Days with eggs and with young lived through; shape (2,).
    lost
        Days with eggs and with young of each kind of interval with a loss; shape (kinds, 2).
    times
        How often each kind occurs.
    """

    survived: NDArray[np.float64]
    lost: NDArray[np.float64]
    times: NDArray[np.float64]

    @classmethod
    def of(cls, intervals: Intervals) -> IntervalLikelihood:
        """Count the intervals of a table."""
        both = np.column_stack([intervals.egg_days, intervals.young_days])
        kinds, times = np.unique(both[intervals.lost], axis=0, return_counts=True)
        survived = both[~intervals.lost].sum(axis=0).astype(float)
        return cls(survived, kinds.reshape(-1, 2).astype(float), times.astype(float))

    def pooled(self) -> IntervalLikelihood:
        """The same with one stage for both: all days count as days with eggs."""
        pooled = np.column_stack([self.lost.sum(axis=1), np.zeros(len(self.lost))])
        return IntervalLikelihood(np.array([self.survived.sum(), 0.0]), pooled, self.times)

    @property
    def losses(self) -> float:
        return float(self.times.sum())

    def log_likelihood(self, hazards: Hazards) -> float:
        """May be minus infinity: an interval with a loss, and no hazard in it."""
        with np.errstate(divide="ignore"):
            chance = np.log(-np.expm1(-self.lost @ hazards))
        return float(-self.survived @ hazards + self.times @ chance)

    def slope(self, hazards: Hazards) -> Hazards:
        """The derivative of `log_likelihood` by each hazard; infinite at 0 with a loss there."""
        reach = self.lost @ hazards
        with np.errstate(divide="ignore", over="ignore", invalid="ignore"):
            pull = np.where(self.lost > 0, self.lost / np.expm1(reach)[:, None], 0.0)
        slope: Hazards = -self.survived + self.times @ pull
        return slope

    def information(self, hazards: Hazards) -> NDArray[np.float64]:
        """Minus the second derivative of `log_likelihood`; shape (2, 2)."""
        reach = np.maximum(self.lost @ hazards, _NEAR_ZERO)
        weight = self.times * np.exp(-reach) / np.expm1(-reach) ** 2
        information: NDArray[np.float64] = (self.lost * weight[:, None]).T @ self.lost
        return information

    def best(self) -> Hazards:
        """The hazards of the highest likelihood: 0 with no loss, `MOST` with no survivor."""

        def given(eggs: float) -> Hazards:
            return self._best_on(_Line(np.array([eggs, 0.0]), np.array([0.0, 1.0]), MOST))

        eggs = _zero_of_falling(lambda eggs: float(self.slope(given(eggs))[0]), 0.0, MOST)
        return given(eggs)

    def _best_on(self, line: _Line) -> Hazards:
        """The hazards of the highest likelihood on a line."""

        def slope(step: float) -> float:
            by_stage = zip(line.direction, self.slope(line.at(step)), strict=True)
            # Only where the line moves: a slope may be infinite, and 0 times that is not 0.
            return float(sum(way * rise for way, rise in by_stage if way != 0))

        return line.at(_zero_of_falling(slope, 0.0, line.length))

    def profile(self, total: float, days: tuple[float, float]) -> float:
        """The highest log likelihood with the hazard over `days` of each stage held at `total`."""
        egg_days, young_days = days
        if young_days == 0:
            line = _Line(np.array([total / egg_days, 0.0]), np.array([0.0, 1.0]), MOST)
        elif egg_days == 0:
            line = _Line(np.array([0.0, total / young_days]), np.array([1.0, 0.0]), MOST)
        else:
            line = _Line(
                np.array([0.0, total / young_days]),
                np.array([1.0, -egg_days / young_days]),
                total / egg_days,
            )
        return self.log_likelihood(self._best_on(line))

    def profile_interval(self, days: tuple[float, float]) -> tuple[float, float]:
        """Ends of the 95 % likelihood interval of the hazard over `days` of each stage."""
        best = self.best()
        top = self.log_likelihood(best)
        estimate = float(np.dot(best, days))
        # Half of the 95 % point of chi-squared with one degree of freedom.
        drop = NORMAL_95**2 / 2

        def above(total: float) -> float:
            return max(self.profile(total, days), -1e300) - (top - drop)

        most = MOST * sum(days)
        low = 0.0
        if estimate > 0 and above(_NEAR_ZERO) < 0:
            low = _zero(above, _NEAR_ZERO, estimate, xtol=1e-13, rtol=1e-12)
        high = most
        if estimate < most and above(most) < 0:
            high = _zero(above, estimate, most, xtol=1e-13, rtol=1e-12)
        return low, high


@dataclass(frozen=True)
class _Line:
    """Hazards from `start`, in a direction, as far as none falls below 0."""

    start: Hazards
    direction: Hazards
    length: float

    def at(self, step: float) -> Hazards:
        return np.maximum(self.start + step * self.direction, 0.0)


def _zero_of_falling(slope: Callable[[float], float], low: float, high: float) -> float:
    """Where a falling function crosses 0; an end where it does not.

    It may be infinite at an end, where a hazard of 0 meets a loss: like 1 / distance, so that
    the product with the distance is tame.
    """
    at_low, at_high = slope(low), slope(high)
    if at_low <= 0:
        return low
    if at_high >= 0:
        return high

    def tame(at: float) -> float:
        value = slope(at)
        if math.isinf(at_low):
            value *= at - low
        return value * (high - at) if math.isinf(at_high) else value

    inside = 1e-13 * (high - low)
    if tame(low + inside) <= 0:
        return low
    if tame(high - inside) >= 0:
        return high
    return _zero(tame, low + inside, high - inside, xtol=1e-16, rtol=1e-14)


def _zero(
    of: Callable[[float], float], low: float, high: float, *, xtol: float, rtol: float
) -> float:
    """Where a function that changes its sign between two ends is 0."""
    from scipy.optimize import brentq  # noqa: PLC0415 - slow to load, and seldom needed

    return float(brentq(of, low, high, xtol=xtol, rtol=rtol))
