"""The logistic-exposure likelihood and its fit."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.random import default_rng

from layers.nesting.season.covariates import parts_of
from layers.nesting.season.logistic import (
    Exposures,
    Floats,
    highest,
    independent_columns,
    interval_survival,
    interval_survival_slope,
)
from tests.nesting.season.made import thrown


def exposures(seed: int, *, nests: int = 200, k: int = 3) -> Exposures:
    """Nests thrown by dice, with numbers that tell nothing, and parts cut at hatching."""
    random = default_rng(seed)
    table = thrown(random, nests=nests, survival=(0.97, 0.94))
    parts = parts_of(table)
    numbers = random.normal(size=(len(parts.days), k - 1))
    columns = np.column_stack([np.ones(len(parts.days)), numbers])
    lost = table.intervals.lost[parts.interval]
    _, lost_at = np.unique(parts.interval[lost], return_index=True)
    return Exposures(
        columns[~lost], parts.days[~lost], columns[lost], parts.days[lost], lost_at.astype(np.int64)
    )


def numeric(exposure: Exposures, beta: Floats, step: float = 1e-5) -> Floats:
    """The slope by differences of the log likelihood."""
    ways = step * np.eye(len(beta))
    return np.array(
        [
            (exposure.log_likelihood(beta + way) - exposure.log_likelihood(beta - way)) / step / 2
            for way in ways
        ]
    )


@pytest.mark.parametrize("beta", [[3.0, 0.2, -0.1], [1.0, -0.5, 0.5], [5.0, 0.0, 0.0]])
def test_the_slope_of_the_likelihood_is_its_numeric_derivative(beta: list[float]) -> None:
    exposure = exposures(1)
    at = np.array(beta)
    assert exposure.slope(at) == pytest.approx(numeric(exposure, at), rel=1e-6, abs=1e-5)


@pytest.mark.parametrize("beta", [[3.0, 0.2, -0.1], [2.0, -0.5, 0.5]])
def test_the_information_is_the_numeric_derivative_of_the_slope(beta: list[float]) -> None:
    exposure = exposures(2)
    at, step = np.array(beta), 1e-5
    found = [
        (exposure.slope(at - way) - exposure.slope(at + way)) / step / 2
        for way in step * np.eye(len(at))
    ]
    assert exposure.information(at) == pytest.approx(np.array(found), rel=1e-5, abs=1e-4)


def test_some_intervals_with_a_loss_have_parts_in_both_stages() -> None:
    exposure = exposures(1)
    assert len(exposure.lost) > len(exposure.lost_at)


def test_no_coefficients_near_the_best_are_likelier() -> None:
    exposure = exposures(4)
    best = highest(exposure)
    assert best.settled
    assert exposure.slope(best.beta) == pytest.approx(np.zeros(3), abs=1e-6)
    random = default_rng(5)
    for _ in range(50):
        other = best.beta + random.normal(scale=0.01, size=3)
        assert exposure.log_likelihood(other) < best.log_likelihood


def test_a_number_that_parts_lost_from_lived_has_no_bound() -> None:
    exposure = exposures(6, k=2)
    exposure.lived[:, 1], exposure.lost[:, 1] = 0.5, -0.5
    best = highest(exposure)
    assert best.endless.tolist()[1]
    assert not highest(exposures(6, k=2)).endless.any()


@pytest.mark.parametrize("days", [1, 3, 7, 15])
@pytest.mark.parametrize("eta", [-2.0, 0.0, 1.5, 4.0])
def test_the_derivative_of_the_link_is_the_numeric_one(eta: float, days: int) -> None:
    step = 1e-5
    found = (interval_survival(eta + step, days) - interval_survival(eta - step, days)) / step / 2
    assert interval_survival_slope(eta, days) == pytest.approx(found, rel=1e-8)


@pytest.mark.parametrize("days", [1, 4, 12])
def test_the_link_of_shaffer_undoes_interval_survival(days: int) -> None:
    eta = np.linspace(-3, 6, 19)
    daily = interval_survival(eta, days) ** (1 / days)
    assert np.log(daily / (1 - daily)) == pytest.approx(eta)


def test_columns_made_up_from_those_before_them_are_dropped() -> None:
    random = default_rng(7)
    one, two = random.normal(size=(2, 50))
    columns = np.column_stack([np.ones(50), one, 3 * one - 2, two, np.zeros(50), one + two])
    assert independent_columns(columns) == [0, 1, 3]


@pytest.mark.parametrize("constant", [-900.0, -300.0, -40.0, 40.0, 300.0, 900.0])
def test_slope_and_information_are_numbers_however_far_the_search_goes(constant: float) -> None:
    exposure = exposures(1)
    at = np.array([constant, 0.0, 0.0])
    assert np.isfinite(exposure.slope(at)).all()
    assert np.isfinite(exposure.information(at)).all()
