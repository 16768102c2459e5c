"""How a number changed over the years."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from scipy import stats

from layers.nesting.season.doubts import FewYears, SmallSample
from layers.nesting.season.result import LEVEL, About, Interval, Measure, no_answer

# With three years a line has one spare year to judge its error by; six are wanted before a
# trend is more than a guess (common practice, no source).
LEAST_YEARS = 3
ENOUGH_YEARS = 6

ABOUT = About(
    method="straight line through the yearly numbers, each year once; t interval of its slope",
    assumptions=(
        "Years scatter about a straight line, each independently of the one before.",
        "The trail's boxes and the way of looking stayed the same.",
    ),
    not_when=(
        "Boxes were added or moved: the change may be theirs.",
        "Few years: weather alone makes lines that rise and fall.",
    ),
    reference="ordinary least squares (textbook)",
)


def trend(yearly: Mapping[int, Measure], *, level: float = LEVEL) -> Measure:
    """The change per year of a measure, with its interval.

    Parameters
    ----------
    yearly
        The same measure of each season; seasons without an answer are passed over.
    """
    years = sorted(year for year, measure in yearly.items() if measure.estimate is not None)
    what = next((measure.name for measure in yearly.values()), "measure")
    name = f"change per year of {what}"
    if len(years) < LEAST_YEARS:
        wanted = "third year with a number"
        nothing = no_answer(name, unit="per year", counted="years", about=ABOUT, wanted=wanted)
        return replace(nothing, n=len(years), warnings=(*nothing.warnings, FewYears(len(years))))
    values = np.array([yearly[year].estimate for year in years], float)
    x = np.array(years, float) - np.mean(years)
    spread = float(x @ x)
    slope = float(x @ values) / spread
    residuals = values - values.mean() - slope * x
    spare = len(years) - 2
    error = math.sqrt(float(residuals @ residuals) / spare / spread)
    reach = float(stats.t.isf((1 - level) / 2, spare)) * error
    few = (SmallSample(len(years), ENOUGH_YEARS, "years"),) if len(years) < ENOUGH_YEARS else ()
    return Measure(
        name=name,
        unit="per year",
        estimate=slope,
        interval=Interval(slope - reach, slope + reach, "t, least squares", level),
        standard_error=error,
        n=len(years),
        counted="years",
        about=ABOUT,
        warnings=few,
        parts={"first year": years[0], "last year": years[-1], "mean": float(values.mean())},
    )
