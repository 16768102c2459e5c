"""Nest success against published numbers and closed forms.

"Memory" beside a number: from general knowledge of the paper, not looked up; the
arithmetic stands by itself.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from layers.nesting import attempt_columns as c
from layers.nesting.season.apparent import apparent_success
from layers.nesting.season.clutches import clutch_size
from layers.nesting.season.comparison import compare_groups
from layers.nesting.season.likelihood import likelihood_survival, nest_success
from layers.nesting.season.mayfield import mayfield, nest_days
from layers.nesting.season.periods import period_survival
from layers.nesting.season.result import Measure
from tests.nesting.season.made import equal_intervals, table_of, thrown


def rate_of(estimate: float, error: float | None = None) -> Measure:
    """A daily survival as published."""
    measure = mayfield(equal_intervals(days=1, n=30, lost=3))
    return replace(measure, estimate=estimate, standard_error=error)


# Klett, Duebbert, Faanes & Higgins 1986, US Fish and Wildlife Service Resource Publication 158,
# eq. 2 and the text beside it: daily survival 0.96 over days -> chance, as printed.
KLETT_POWERS = [(35, 0.2396), (30, 0.2939), (2, 0.922), (3, 0.885)]


@pytest.mark.parametrize(("days", "printed"), KLETT_POWERS)
def test_period_survival_gives_the_powers_printed_by_klett_et_al(days: int, printed: float) -> None:
    estimate = period_survival(rate_of(0.96), days=days, name="period").estimate
    assert estimate is not None
    places = len(str(printed)) - 2
    assert round(estimate, places) == printed


def test_period_survival_keeps_the_full_digits_of_kletts_examples() -> None:
    # Worked out from 0.96**35 and 0.96**30, Klett et al. 1986 eq. 2.
    assert period_survival(rate_of(0.96), days=35, name="p").estimate == pytest.approx(
        0.239603499, abs=5e-10
    )
    assert period_survival(rate_of(0.96), days=30, name="p").estimate == pytest.approx(
        0.293857643, abs=5e-10
    )


@pytest.mark.parametrize(("successful", "unsuccessful"), [(7, 3), (1, 1), (40, 12)])
def test_apparent_success_is_equation_1_of_klett_et_al(successful: int, unsuccessful: int) -> None:
    # Klett et al. 1986 eq. 1: P1 = Ns / (Ns + Nu).
    n = successful + unsuccessful
    measure = apparent_success(equal_intervals(days=7, n=n, lost=unsuccessful))
    assert (measure.estimate, measure.n) == (successful / (successful + unsuccessful), n)


def test_mayfields_example_of_kirtlands_warbler_comes_out() -> None:
    # Mayfield 1961/1975 (memory): 35 losses in 878 nest-days of incubation; 0.040 a day, 0.960,
    # 0.56 over 14 days. Further digits worked out from f / E and (E - f) f / E**3 (Johnson 1979,
    # memory). 35 losses midway in 2-day intervals are 35 days of the 878.
    lost = [(i, 2, 0, True) for i in range(35)]
    table = table_of([*lost, *((35 + i, 1, 0, False) for i in range(878 - 35))])
    found = nest_days(table)
    assert (found.losses, found.days) == (35, 878)
    daily = mayfield(table)
    assert daily.estimate is not None
    assert daily.standard_error is not None
    assert round(daily.estimate, 3) == 0.960
    assert daily.estimate == pytest.approx(0.9601367, abs=5e-8)
    assert daily.standard_error == pytest.approx(0.00660246, abs=5e-9)
    period = period_survival(daily, days=14, name="incubation")
    assert period.estimate == pytest.approx(0.565800, abs=5e-7)
    assert period.interval is not None
    # The reference took 1.96 for the quantile of 95 %, here 1.95996.
    assert period.interval.low == pytest.approx(0.467904, abs=5e-6)
    assert period.interval.high == pytest.approx(0.682439, abs=5e-6)


# Closed forms, intervals of equal length: t days, n nests, f lost. Likelihood (1 - f/n)**(1/t),
# Johnson 1979; Mayfield exposure (n - f) t + f t r with r = 0.5 or 0.4 (Miller & Johnson 1978,
# Journal of Wildlife Management 42:471-476; both memory). Columns: t, n, f, likelihood,
# exposure and survival by midpoint, exposure and survival by 40 %.
CLOSED = [
    (7, 100, 20, 0.96862509, 630.0, 0.96825397, 616.0, 0.96753247),
    (3, 100, 10, 0.96548938, 285.0, 0.96491228, 282.0, 0.96453901),
    (1, 500, 10, 0.98, 495.0, 0.97979798, 494.0, 0.97975709),
]


@pytest.mark.parametrize("closed", CLOSED)
def test_equal_intervals_give_the_closed_forms(
    closed: tuple[int, int, int, float, float, float, float, float],
) -> None:
    t, n, f, best, e_mid, mid, e_40, forty = closed
    table = equal_intervals(days=t, n=n, lost=f)
    likelihood = likelihood_survival(table)
    assert likelihood.estimate == pytest.approx(best, abs=5e-9)
    assert likelihood.estimate == pytest.approx((1 - f / n) ** (1 / t), abs=1e-12)
    assert nest_days(table, rule="midpoint").days == pytest.approx(e_mid)
    assert nest_days(table, rule="40 %").days == pytest.approx(e_40)
    assert mayfield(table, rule="midpoint").estimate == pytest.approx(mid, abs=5e-9)
    assert mayfield(table, rule="40 %").estimate == pytest.approx(forty, abs=5e-9)


def test_the_error_of_the_likelihood_is_the_binomial_one_where_looks_are_daily() -> None:
    measure = likelihood_survival(equal_intervals(days=1, n=500, lost=10))
    assert measure.standard_error == pytest.approx(math.sqrt(0.98 * 0.02 / 500), rel=1e-9)


def test_the_profile_interval_solves_its_own_equation() -> None:
    # Wilks: twice the drop of the log likelihood is 3.841459, the 95 % point of chi-squared, 1 df.
    interval = likelihood_survival(equal_intervals(days=7, n=100, lost=20)).interval
    assert interval is not None

    def log_likelihood(s: float) -> float:
        return 80 * 7 * math.log(s) + 20 * math.log(1 - s**7)

    top = log_likelihood(0.8 ** (1 / 7))
    for end in (interval.low, interval.high):
        assert 2 * (top - log_likelihood(end)) == pytest.approx(3.841458820694124, rel=1e-8)


def test_without_losses_the_lower_end_is_that_of_the_likelihood_ratio() -> None:
    # s**E = exp(-chi2/2): E days survived, no loss.
    measure = likelihood_survival(equal_intervals(days=7, n=30, lost=0))
    assert measure.interval is not None
    assert (measure.estimate, measure.interval.high) == (1.0, 1.0)
    expected = math.exp(-3.841458820694124 / 2 / 210)
    assert measure.interval.low == pytest.approx(expected, rel=1e-9)


def test_stage_rates_are_the_closed_forms_where_no_interval_has_both() -> None:
    eggs = [(i, 7, 0, i < 20) for i in range(100)]
    young = [(100 + i, 0, 3, i < 10) for i in range(100)]
    table = table_of([*eggs, *young])
    with_eggs, with_young = 0.8 ** (1 / 7), 0.9 ** (1 / 3)
    assert likelihood_survival(table, stage="eggs").estimate == pytest.approx(with_eggs, abs=1e-12)
    assert likelihood_survival(table, stage="young").estimate == pytest.approx(
        with_young, abs=1e-12
    )
    whole = nest_success(table, egg_days=14, young_days=18)
    assert whole.estimate == pytest.approx(0.8**2 * 0.9**6, abs=1e-11)
    # Delta method: (SE / P)**2 = (14 SE_e / s_e)**2 + (18 SE_y / s_y)**2, and of each stage's own
    # share q over t days SE_s / s = sqrt(q (1 - q) / n) / (t q).
    relative = math.hypot(
        14 / 7 * math.sqrt(0.8 * 0.2 / 100) / 0.8, 18 / 3 * math.sqrt(0.9 * 0.1 / 100) / 0.9
    )
    assert whole.standard_error == pytest.approx(0.8**2 * 0.9**6 * relative, rel=1e-9)


def test_two_groups_give_the_square_of_z() -> None:
    # Hensler & Nichols 1981 (memory): z = (s1 - s2) / sqrt(V1 + V2).
    result = compare_groups({"one": rate_of(0.96, 0.008), "two": rate_of(0.94, 0.012)})
    z = (0.96 - 0.94) / math.hypot(0.008, 0.012)
    assert result.chi_squared == pytest.approx(z**2)
    assert result.p_value == pytest.approx(math.erfc(abs(z) / math.sqrt(2)))


def test_several_groups_give_the_quadratic_form_of_sauer_and_williams() -> None:
    # Sauer & Williams 1989 (memory): (C s)' (C V C')^-1 (C s), k - 1 degrees of freedom.
    rates, errors = np.array([0.96, 0.94, 0.97, 0.95]), np.array([0.008, 0.012, 0.01, 0.02])
    contrasts = np.column_stack([np.eye(3), -np.ones(3)])
    difference = contrasts @ rates
    spread = contrasts @ np.diag(errors**2) @ contrasts.T
    result = compare_groups(
        {str(i): rate_of(s, e) for i, (s, e) in enumerate(zip(rates, errors, strict=True))}
    )
    assert result.chi_squared == pytest.approx(difference @ np.linalg.solve(spread, difference))
    assert result.degrees == 3


def test_the_mean_clutch_of_bewicks_wren_comes_out() -> None:
    # Bewick's wren, Puget lowlands, staff.washington.edu/puffinus/bewicks-wren: clutches of
    # 3, 4, 5, 6 eggs in 2, 6, 11, 4 nests; n = 23, mean 4.7.
    counts = [3] * 2 + [4] * 6 + [5] * 11 + [6] * 4
    table = equal_intervals(days=7, n=len(counts), lost=0)
    table.rows[:, c.EGG_DAY], table.rows[:, c.STABLE] = 100, 1
    table.rows[:, c.EGGS_MAX] = counts
    mean = clutch_size(table)
    assert mean.n == 23
    assert mean.estimate is not None
    assert round(mean.estimate, 1) == 4.7
    assert mean.estimate == pytest.approx(109 / 23)


def test_eastern_bluebird_stage_rates_multiply_to_the_published_whole() -> None:
    # Radunzel et al. 1997, Journal of Field Ornithology 68:7-18 (by conservationevidence.com,
    # study 1423): hatching x survival to ringing = overall, printed to two places.
    for hatched, survived, printed in ((0.82, 0.93, 0.76), (0.72, 0.87, 0.62)):
        eggs = [(i, 1, 0, i >= round(100 * hatched)) for i in range(100)]
        young = [(100 + i, 0, 1, i >= round(100 * survived)) for i in range(100)]
        whole = nest_success(table_of([*eggs, *young]), egg_days=1, young_days=1).estimate
        # The printed parts are rounded, so the product may be off by one in the second place.
        assert whole == pytest.approx(printed, abs=0.0101)


def test_the_likelihood_is_close_to_the_truth_of_many_nests_and_mayfield_near_it() -> None:
    # Shaffer 2004, Auk 121:526-540, abstract: estimates agree closely with Johnson's likelihood.
    table = thrown(np.random.default_rng(3), nests=4000, survival=0.96)
    best, midpoint = likelihood_survival(table), mayfield(table)
    assert best.estimate == pytest.approx(0.96, abs=0.002)
    assert midpoint.estimate == pytest.approx(best.estimate, abs=0.001)
