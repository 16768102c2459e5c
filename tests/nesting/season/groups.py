"""Nests of two groups thrown by dice, for tests of the regression and of its size."""

from __future__ import annotations

import numpy as np
from numpy.random import Generator
from scipy import stats

from layers.nesting.season.regression import SurvivalFit, fit_survival
from layers.nesting.season.tables import SeasonTable
from tests.nesting.season.made import table_of

LOGIT = 2.9
"""Of daily survival in the group without a guard."""


def two_groups(random: Generator, *, difference: float) -> tuple[SeasonTable, list[str]]:
    """120 nests, half of them with a guard; the logit of daily survival differs."""
    rows: list[tuple[int, int, int, bool]] = []
    guards = []
    for nest in range(120):
        guarded = nest % 2 == 0
        daily = 1 / (1 + np.exp(-(LOGIT + difference * guarded)))
        for _ in range(5):
            lost = bool(random.random() > daily**7)
            rows.append((nest, 7, 0, lost))
            if lost:
                break
        guards.append("cone" if guarded else "none")
    return table_of(rows), guards


def fitted(table: SeasonTable, guards: list[str], terms: list[str]) -> SurvivalFit:
    """The fit to the guards, or to none."""
    fit = fit_survival(table, {"guards": np.array(guards, object)}, terms=terms)
    assert isinstance(fit, SurvivalFit)
    return fit


def likelihood_ratio_p(small: SurvivalFit, large: SurvivalFit) -> float:
    """The p value of a likelihood ratio test with one term more."""
    more = len(large.coefficients) - len(small.coefficients)
    return float(stats.chi2.sf(2 * (large.log_likelihood - small.log_likelihood), more))


def cone_effect(fit: SurvivalFit) -> tuple[float, float, float]:
    """The coefficient of the cone and the ends of its interval, whichever level is the first."""
    by_name = {one.name: one for one in fit.coefficients}
    if "guards: cone" in by_name:
        one = by_name["guards: cone"]
        return one.estimate, one.low, one.high
    one = by_name["guards: none"]
    return -one.estimate, -one.high, -one.low
