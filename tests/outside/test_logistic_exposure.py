"""Logistic exposure against the likelihood without covariates, and against statsmodels."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import statsmodels.api as sm
from numpy.random import default_rng

from layers.nesting.season.likelihood import likelihood_survival
from layers.nesting.season.models import predict
from layers.nesting.season.regression import SurvivalFit, fit_survival
from layers.nesting.season.tables import SeasonTable
from tests.nesting.season.made import equal_intervals, table_of, thrown
from tests.nesting.season.shaffer import shaffer_fit


def fitted(table: SeasonTable, terms: list[str], values: dict[str, Any]) -> SurvivalFit:
    fit = fit_survival(table, values, terms=terms)
    assert isinstance(fit, SurvivalFit)
    return fit


def eggs_only(seed: int) -> SeasonTable:
    return thrown(default_rng(seed), nests=300, survival=0.96, egg_days=35, young_days=0)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_statsmodels_with_a_link_of_its_own_gives_the_same_coefficients(seed: int) -> None:
    table = eggs_only(seed)
    random = default_rng(seed)
    height, guards = random.normal(2, 0.5, len(table)), random.integers(0, 2, len(table))
    values = {"height_m": height, "guards": np.where(guards == 1, "cone", "none").astype(object)}
    fit = fitted(table, ["height", "guards"], values)
    nest = table.intervals.nest
    level = fit.coefficients[2].name
    columns = np.column_stack(
        [
            np.ones(len(nest)),
            height[nest] - height[nest].mean(),
            (guards[nest] == (1 if level == "guards: cone" else 0)).astype(float),
        ]
    )
    theirs = shaffer_fit(table.intervals.lost, table.intervals.days.astype(float), columns)
    ours = [coefficient.estimate for coefficient in fit.coefficients]
    assert ours == pytest.approx(theirs.params, abs=1e-6)
    assert fit.log_likelihood == pytest.approx(theirs.llf, abs=1e-7)
    # Theirs is the expected information, ours the observed: alike, not the same.
    errors = [coefficient.standard_error for coefficient in fit.coefficients]
    assert errors == pytest.approx(theirs.bse, rel=0.05)


@pytest.mark.parametrize("seed", range(5))
def test_without_covariates_it_is_the_likelihood(seed: int) -> None:
    table = thrown(default_rng(seed), nests=150, survival=(0.97, 0.94))
    fit = fitted(table, [], {})
    daily = 1 / (1 + np.exp(-fit.coefficients[0].estimate))
    assert daily == pytest.approx(likelihood_survival(table).estimate, abs=1e-8)


@pytest.mark.parametrize(("days", "n", "lost"), [(7, 100, 20), (3, 100, 10), (1, 500, 10)])
def test_equal_intervals_give_the_closed_form(days: int, n: int, lost: int) -> None:
    # (1 - f/n)**(1/t), Johnson 1979.
    fit = fitted(equal_intervals(days=days, n=n, lost=lost), [], {})
    daily = 1 / (1 + np.exp(-fit.coefficients[0].estimate))
    assert daily == pytest.approx((1 - lost / n) ** (1 / days), abs=1e-8)


def test_with_the_stage_it_is_the_likelihood_of_both_stages() -> None:
    table = thrown(default_rng(9), nests=300, survival=(0.97, 0.94))
    fit = fitted(table, ["stage"], {})
    assert fit.encoders[0].levels == ("eggs", "young")
    constant, young = (coefficient.estimate for coefficient in fit.coefficients)
    eggs = likelihood_survival(table, stage="eggs").estimate
    assert 1 / (1 + np.exp(-constant)) == pytest.approx(eggs, abs=1e-8)
    later = likelihood_survival(table, stage="young").estimate
    assert 1 / (1 + np.exp(-constant - young)) == pytest.approx(later, abs=1e-8)


def test_a_prediction_of_a_day_is_statsmodels_own_where_each_interval_is_a_day() -> None:
    random = default_rng(12)
    rows = [(i // 5, 1, 0, bool(i % 5 == 4 and random.random() < 0.3)) for i in range(1500)]
    table = table_of(rows)
    guards = random.integers(0, 2, len(table))
    values = {"guards": np.where(guards == 1, "cone", "none").astype(object)}
    fit = fitted(table, ["guards"], values)
    base = fit.encoders[0].levels[0]
    nest = table.intervals.nest
    columns = np.column_stack([np.ones(len(nest)), values["guards"][nest] != base])
    plain = sm.GLM(1.0 - table.intervals.lost, columns.astype(float), sm.families.Binomial())
    theirs = plain.fit(tol=1e-14)
    for guard in ("cone", "none"):
        ours = predict(fit, {"guards": guard}, egg_days=1, young_days=0)
        frame = theirs.get_prediction(np.array([[1.0, guard != base]])).summary_frame()
        assert ours.period == pytest.approx(frame["mean"][0], rel=1e-9)
        assert ours.standard_error == pytest.approx(frame["mean_se"][0], rel=1e-6)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_prediction_over_many_days_is_that_of_statsmodels_with_a_link_of_its_own(
    seed: int,
) -> None:
    table = eggs_only(seed)
    hole = default_rng(seed).choice([28.0, 32.0, 38.0], len(table))
    fit = fitted(table, ["hole"], {"hole_mm": hole})
    nest = table.intervals.nest
    mean = hole[nest].mean()
    columns = np.column_stack([np.ones(len(nest)), hole[nest] - mean])
    theirs = shaffer_fit(table.intervals.lost, table.intervals.days.astype(float), columns)
    for mm in (28.0, 38.0):
        x = np.array([1.0, mm - mean])
        daily = 1 / (1 + np.exp(-(x @ theirs.params)))
        ours = predict(fit, {"hole": mm}, egg_days=35, young_days=0)
        assert ours.period == pytest.approx(daily**35, rel=1e-5)
        # Delta method: the period's derivative by the logit is 35 (1 - daily) period. Their
        # information is the expected one.
        error = 35 * (1 - daily) * daily**35 * np.sqrt(x @ theirs.cov_params() @ x)
        assert ours.standard_error == pytest.approx(error, rel=0.05)
