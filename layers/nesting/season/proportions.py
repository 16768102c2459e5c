"""Exact interval of a share."""

from __future__ import annotations

from scipy import stats

from layers.nesting.season.result import LEVEL, Interval


def exact_binomial(successes: float, n: float, *, level: float = LEVEL) -> Interval:
    """The exact (Clopper-Pearson) interval of a share.

    `n` above 0. Fractions are taken as they come: a box that stood half the season
    counts as half a case, and the interval is then an approximation.

    References
    ----------
    Clopper & Pearson 1934, Biometrika 26:404-413.

    Examples
    --------
    >>> interval = exact_binomial(0, 10)
    >>> interval.low, round(interval.high, 4)
    (0.0, 0.3085)
    """
    tail = (1 - level) / 2
    low = stats.beta.ppf(tail, successes, n - successes + 1) if successes > 0 else 0.0
    high = stats.beta.isf(tail, successes + 1, n - successes) if successes < n else 1.0
    return Interval(float(low), float(high), "exact binomial", level)


def normal_quantile(level: float) -> float:
    """How many standard errors an interval of this confidence reaches to either side."""
    return float(stats.norm.isf((1 - level) / 2))
