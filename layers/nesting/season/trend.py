"""How a number changed over the years."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from layers.nesting.season.doubts import FewYears, few
from layers.nesting.season.result import TAIL, About, Interval, Measure, Quantity

# With three years a line has one spare year to judge its error by; six are wanted before a
# trend is more than a guess (common practice, no source).
LEAST_YEARS = 3
ENOUGH_YEARS = 6

ABOUT = About(
    method="straight line through the yearly numbers, each year once; t interval of its slope",
    assumptions=(
        "Years scatter about a straight line, each independently of the one before.",
        "The trail's boxes and visits stayed the same.",
    ),
    not_when=(
        "Boxes were added or moved: the change may be theirs.",
        "Few years: weather alone makes lines that rise and fall.",
    ),
    reference="ordinary least squares (textbook)",
)


def trend(yearly: Mapping[int, Measure]) -> Measure:
    """The change per year of a measure, with its interval.

    Parameters
    ----------
    yearly
        The same measure of each season; seasons without an answer are passed over.
    """
    from scipy.special import stdtrit  # noqa: PLC0415 - slow to load, and seldom needed

    years = sorted(year for year, measure in yearly.items() if measure.estimate is not None)
    what = next((measure.name for measure in yearly.values()), "measure")
    change = Quantity(
        f"change per year of {what}", "per year", "years", ABOUT, "third year with a number"
    )
    if len(years) < LEAST_YEARS:
        return change.without_answer(n=len(years), warnings=(FewYears(len(years)),))
    values = np.array([yearly[year].estimate for year in years], float)
    x = np.array(years, float) - np.mean(years)
    spread = float(x @ x)
    slope = float(x @ values) / spread
    residuals = values - values.mean() - slope * x
    spare = len(years) - 2
    error = math.sqrt(float(residuals @ residuals) / spare / spread)
    reach = float(stdtrit(spare, 1 - TAIL)) * error
    return change.measured(
        slope,
        interval=Interval(slope - reach, slope + reach, "t, least squares"),
        standard_error=error,
        n=len(years),
        warnings=few(len(years), ENOUGH_YEARS, "years"),
        parts={"first year": years[0], "last year": years[-1], "mean": float(values.mean())},
    )
