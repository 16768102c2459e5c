"""Whether nests run a risk that rises or falls over the years: one model of all seasons."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from layers.nesting import attempt_columns as c
from layers.nesting.season.course_likelihood import CourseLikelihood
from layers.nesting.season.doubts import FewYears, few
from layers.nesting.season.result import NORMAL_95, TAIL, About, Interval, Measure, Quantity
from layers.nesting.season.tables import SeasonTable
from layers.nesting.season.trend import ENOUGH_YEARS, LEAST_YEARS

ABOUT = About(
    method=(
        "maximum likelihood over all courses that the visits of all seasons allow, the daily risk "
        "of each stage multiplied by a power of the year; normal interval, or t interval with a "
        "wider error where years scatter about the trend by more than chance"
    ),
    assumptions=(
        "The risk with eggs and the risk with young change by the same factor every year.",
        "Signs after a loss and after fledging are recorded as often in every year.",
        "The trail's boxes, species and visits stayed the same.",
    ),
    not_when=(
        "Boxes were added or moved: the change may be theirs.",
        "Few years: weather alone makes risks that rise and fall.",
    ),
    reference=(
        "likelihood of Johnson 1979, Auk 96:651-661; widened errors as in McCullagh & Nelder 1989, "
        "Generalized Linear Models, 4.5 (from memory)"
    ),
)

RISK = Quantity(
    "change per year of the daily risk of loss",
    "change",
    "years",
    ABOUT,
    "bound that these years put on it",
)

# A risk that grows by more than a factor of e a year is no trend of a trail.
_MOST = 1.0
_STEP = 0.01


def risk_trend(table: SeasonTable) -> Measure:
    """The share by which the daily risk of loss changed from year to year.

    `estimate` is -0.1 where the risk fell by a tenth a year. The year of each nest is a number;
    `compare_groups` takes it as a factor.
    """
    own = table.take(table.courses.watched)
    years = own.rows[:, c.SEASON]
    each = np.unique(years)
    if len(each) < LEAST_YEARS:
        return RISK.without_answer(n=len(each), warnings=(FewYears(len(each)),))
    past = years - years.mean()

    def scores(change: float) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
        """Of each nest, how its likelihood rises with its risk; and which nest it is."""
        likelihood = CourseLikelihood(own.courses, risk=np.exp(change * past))
        return likelihood.risk_scores, likelihood.attempts

    def rise(change: float) -> float:
        """Of the likelihood with the change; hazards and signs are at their best for it."""
        score, nests = scores(change)
        return float(past[nests] @ score)

    if not rise(-_MOST) > 0 > rise(_MOST):
        return RISK.without_answer(n=len(each))
    from scipy.optimize import brentq  # noqa: PLC0415 - slow to load, and seldom needed
    from scipy.special import stdtrit  # noqa: PLC0415

    change = brentq(rise, -_MOST, _MOST, xtol=1e-4)
    information = (rise(change - _STEP) - rise(change + _STEP)) / (2 * _STEP)
    score, nests = scores(change)
    spare = len(each) - 2
    of_year = np.searchsorted(each, years[nests])
    apart = np.bincount(of_year, score) ** 2 / np.bincount(of_year, score**2)
    widened = max(1.0, float(apart.sum()) / spare)
    error = math.sqrt(widened / information)
    # With four to ten years such intervals hold in 93 to 97 %, those of three in 87 to 97 %; a
    # t interval throughout holds in up to 100 % (20,000 made trends, scatter 0 to 2 times chance).
    reach = (float(stdtrit(spare, 1 - TAIL)) if widened > 1 else NORMAL_95) * error
    if reach > _MOST:
        return RISK.without_answer(n=len(each))
    return RISK.measured(
        math.expm1(change),
        interval=Interval(
            math.expm1(change - reach), math.expm1(change + reach), "normal or t, log risk"
        ),
        standard_error=math.exp(change) * error,
        n=len(each),
        warnings=few(len(each), ENOUGH_YEARS, "years"),
        parts={
            "first year": int(each[0]),
            "last year": int(each[-1]),
            "nests watched": len(own),
            "variance by that of chance": widened,
        },
    )
