"""Seasons thrown by dice with a known daily survival: intervals cover it as often as they say.

Bounds on shares are those that a right method stays within in 999 of 1000 runs (exact
binomial); `python -m tests.bench.season` has the full 500 seasons.
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.random import default_rng
from scipy import stats

from layers.nesting.season.likelihood import likelihood_survival, nest_success
from layers.nesting.season.mayfield import mayfield
from layers.nesting.season.result import Measure
from layers.nesting.season.tables import SeasonTable
from tests.nesting.season.groups import cone_effect, fitted, likelihood_ratio_p, two_groups
from tests.nesting.season.made import thrown

pytestmark = pytest.mark.slow

SEASONS = 120


def expected(share: float, runs: int) -> tuple[float, float]:
    """Between what shares a right method stays."""
    low, high = stats.binom.interval(0.999, runs, share)
    return low / runs, high / runs


def covers(measure: Measure, truth: float) -> bool:
    assert measure.interval is not None
    return measure.interval.low <= truth <= measure.interval.high


@pytest.fixture(scope="module")
def seasons() -> list[SeasonTable]:
    random = default_rng(20)
    return [thrown(random, nests=80, survival=(0.975, 0.96)) for _ in range(SEASONS)]


def test_stage_rates_and_their_product_cover_the_truth(seasons: list[SeasonTable]) -> None:
    low, high = expected(0.95, SEASONS)
    eggs = [covers(likelihood_survival(table, stage="eggs"), 0.975) for table in seasons]
    assert low <= np.mean(eggs) <= high
    truth = 0.975**17 * 0.96**18
    whole = [covers(nest_success(table, egg_days=17, young_days=18), truth) for table in seasons]
    assert low <= np.mean(whole) <= high


def test_one_rate_for_all_is_covered_and_not_biased() -> None:
    random = default_rng(21)
    tables = [thrown(random, nests=80, survival=0.96) for _ in range(SEASONS)]
    best = [likelihood_survival(table) for table in tables]
    low, high = expected(0.95, SEASONS)
    assert low <= np.mean([covers(measure, 0.96) for measure in best]) <= high
    for method in (best, [mayfield(table) for table in tables]):
        estimates = np.array([measure.estimate for measure in method], float)
        # Three standard errors of the mean over seasons, and the small bias of a ratio.
        assert estimates.mean() == pytest.approx(
            0.96, abs=3 * estimates.std() / np.sqrt(SEASONS) + 0.0005
        )


def test_the_regression_recovers_a_known_effect_and_covers_it() -> None:
    random = default_rng(22)
    found = []
    for _ in range(SEASONS):
        table, guards = two_groups(random, difference=0.8)
        found.append(cone_effect(fitted(table, guards, ["guards"])))
    estimates = np.array([estimate for estimate, _, _ in found])
    assert estimates.mean() == pytest.approx(0.8, abs=3 * estimates.std() / np.sqrt(SEASONS) + 0.02)
    low, high = expected(0.95, SEASONS)
    assert low <= np.mean([below <= 0.8 <= above for _, below, above in found]) <= high


def test_without_an_effect_one_test_in_twenty_finds_one() -> None:
    random = default_rng(23)
    found = []
    for _ in range(300):
        table, guards = two_groups(random, difference=0.0)
        small, large = fitted(table, guards, []), fitted(table, guards, ["guards"])
        found.append(likelihood_ratio_p(small, large) < 0.05)
    low, high = expected(0.05, 300)
    assert low <= np.mean(found) <= high
