"""Apparent, Mayfield's and likelihood survival: edges, stages, groups, periods."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from numpy.random import default_rng

from layers.nesting import attempt_columns as c
from layers.nesting.dating.terms import FIRST_EGG, FLEDGE, HATCH
from layers.nesting.season.apparent import apparent_success
from layers.nesting.season.comparison import compare_groups
from layers.nesting.season.doubts import (
    AllLost,
    GroupLeftOut,
    KeeperLosses,
    LongIntervals,
    NoData,
    NoLosses,
    SmallSample,
    UncertainFates,
)
from layers.nesting.season.likelihood import likelihood_survival, nest_success
from layers.nesting.season.mayfield import mayfield, nest_days
from layers.nesting.season.periods import Periods, period_survival, periods
from layers.nesting.season.result import Measure
from layers.nesting.season.tables import SeasonTable
from tests.nesting.season.interval_likelihood import IntervalLikelihood
from tests.nesting.season.made import equal_intervals, table_of, thrown

NOTHING = table_of([])
MEASURES: list[Callable[[SeasonTable], Measure]] = [
    apparent_success,
    mayfield,
    likelihood_survival,
    lambda table: mayfield(table, rule="40 %", stage="young"),
    lambda table: likelihood_survival(table, stage="eggs"),
    lambda table: nest_success(table, egg_days=17, young_days=18),
    lambda table: period_survival(mayfield(table), days=30, name="survival over 30 days"),
]


def kinds(measure: Measure) -> set[type]:
    return {type(doubt) for doubt in measure.warnings}


@pytest.mark.parametrize("measure", MEASURES)
def test_no_nest_is_no_answer_in_a_plain_sentence(
    measure: Callable[[SeasonTable], Measure],
) -> None:
    result = measure(NOTHING)
    assert (result.estimate, result.interval, result.n) == (None, None, 0)
    assert kinds(result) == {NoData}
    assert "no answer: there is no" in result.sentence()
    assert "(0 nests" in result.sentence()


@pytest.mark.parametrize("measure", MEASURES)
@pytest.mark.parametrize("lost", [False, True])
def test_one_nest_gives_a_number_and_says_that_it_is_one(
    measure: Callable[[SeasonTable], Measure], lost: bool
) -> None:
    result = measure(table_of([(0, 7, 0, False), (0, 2, 5, False), (0, 0, 7, lost)]))
    assert result.estimate is not None
    assert 0 <= result.estimate <= 1
    assert SmallSample in kinds(result)
    assert "(1 nest " in result.sentence() or "(1 nest;" in result.sentence()


@pytest.mark.parametrize("measure", MEASURES)
def test_estimates_and_their_ends_stay_between_0_and_1(
    measure: Callable[[SeasonTable], Measure],
) -> None:
    for seed, survival in ((1, 0.5), (2, 0.9), (3, 0.999)):
        result = measure(thrown(default_rng(seed), nests=30, survival=survival))
        if result.estimate is None:
            continue
        assert 0 <= result.estimate <= 1
        if result.interval is not None:
            assert 0 <= result.interval.low <= result.estimate <= result.interval.high <= 1


def test_with_none_lost_survival_is_1_without_an_error_and_says_so() -> None:
    table = equal_intervals(days=7, n=30, lost=0)
    for result in (mayfield(table), likelihood_survival(table)):
        assert (result.estimate, result.standard_error) == (1.0, None)
        assert NoLosses in kinds(result)
    apparent = apparent_success(table)
    assert apparent.interval is not None
    # The exact interval of 30 of 30: its lower end is 0.025**(1/30).
    assert apparent.interval.low == pytest.approx(0.025 ** (1 / 30))


def test_with_all_lost_at_once_survival_is_0_and_its_upper_end_is_known() -> None:
    table = equal_intervals(days=2, n=25, lost=25)
    best = likelihood_survival(table)
    assert (best.estimate, best.standard_error) == (0.0, None)
    assert AllLost in kinds(best)
    assert best.interval is not None
    # 25 ln(1 - s**2) = -chi2/2 at the end.
    assert best.interval.low == 0
    upper = math.sqrt(1 - math.exp(-3.841458820694124 / 2 / 25))
    assert best.interval.high == pytest.approx(upper)
    # Halfway in two days is one day for each loss: 1 - 25 / 25.
    assert mayfield(table).estimate == 0


def test_losses_in_single_days_do_not_drive_mayfield_below_0() -> None:
    result = mayfield(equal_intervals(days=1, n=25, lost=25))
    assert (result.estimate, result.interval) == (0.0, None)
    assert AllLost in kinds(result)


def test_unknown_fates_only_still_give_daily_survival_but_no_apparent_success() -> None:
    table = equal_intervals(days=7, n=25, lost=0)
    table.fate[:] = c.FATE_UNKNOWN
    apparent = apparent_success(table)
    assert apparent.estimate is None
    assert apparent.left_out == {"its outcome is unknown": 25}
    daily = mayfield(table)
    assert daily.estimate == 1.0
    assert UncertainFates in kinds(daily)


def test_nests_taken_out_by_the_keeper_are_named_and_not_counted_as_failed() -> None:
    table = equal_intervals(days=7, n=30, lost=0)
    table.fate[:4], table.rows[:4, c.CAUSE] = c.FATE_FAILED, c.NEST_REMOVED
    apparent = apparent_success(table)
    assert (apparent.estimate, apparent.n) == (1.0, 26)
    assert apparent.left_out == {"the keeper took the living nest out": 4}
    assert {KeeperLosses} <= kinds(apparent)
    assert {KeeperLosses} <= kinds(mayfield(table))


def test_losses_in_long_intervals_are_doubted_beside_mayfield_only() -> None:
    table = equal_intervals(days=20, n=40, lost=10)
    assert LongIntervals in kinds(mayfield(table))
    assert LongIntervals not in kinds(likelihood_survival(table))


def test_a_loss_is_given_to_the_stage_in_which_the_rule_puts_it() -> None:
    table = table_of([(0, 4, 6, True)])
    # Halfway is day 5: four days with eggs, one with young and the loss.
    assert (nest_days(table, stage="eggs").days, nest_days(table, stage="eggs").losses) == (4, 0)
    assert (nest_days(table, stage="young").days, nest_days(table, stage="young").losses) == (1, 1)
    # At 40 % it is day 4: the last with eggs.
    eggs, young = (nest_days(table, rule="40 %", stage=stage) for stage in ("eggs", "young"))
    assert (eggs.days, eggs.losses, young.days, young.losses) == (4, 1, 0, 0)


def test_johnsons_variance_is_the_formula_of_its_docstring() -> None:
    table = thrown(default_rng(4), nests=60, survival=0.95)
    found, result = nest_days(table), mayfield(table)
    expected = math.sqrt((found.days - found.losses) * found.losses / found.days**3)
    assert result.standard_error == pytest.approx(expected)


def test_period_survival_has_the_delta_error_of_its_docstring() -> None:
    daily = mayfield(thrown(default_rng(4), nests=60, survival=0.95))
    period = period_survival(daily, days=14, name="incubation")
    assert daily.estimate is not None
    assert daily.standard_error is not None
    expected = 14 * daily.estimate**13 * daily.standard_error
    assert period.standard_error == pytest.approx(expected)
    assert period.sentence().startswith("Incubation: ")


def test_the_best_hazards_beat_any_near_them_with_losses_over_hatching() -> None:
    table = thrown(default_rng(5), nests=80, survival=(0.97, 0.92))
    likelihood = IntervalLikelihood.of(table.intervals)
    assert (likelihood.lost.min(axis=1) > 0).any(), "some losses lie over hatching"
    best = likelihood.best()
    top = likelihood.log_likelihood(best)
    random = default_rng(6)
    for _ in range(100):
        other = np.abs(best + random.normal(scale=0.003, size=2))
        assert likelihood.log_likelihood(other) < top


def test_the_profile_of_the_product_beats_any_hazards_with_that_product() -> None:
    likelihood = IntervalLikelihood.of(
        thrown(default_rng(7), nests=80, survival=(0.97, 0.92)).intervals
    )
    low, high = likelihood.profile_interval((17, 18))
    top = likelihood.log_likelihood(likelihood.best())
    for total in (low, high):
        profile = likelihood.profile(total, (17, 18))
        assert 2 * (top - profile) == pytest.approx(3.841458820694124, rel=1e-7)
        for share in np.linspace(0.01, 0.99, 25):
            hazards = np.array([share * total / 17, (1 - share) * total / 18])
            assert likelihood.log_likelihood(hazards) <= profile + 1e-9


def test_the_information_is_the_numeric_curve_of_the_likelihood() -> None:
    likelihood = IntervalLikelihood.of(
        thrown(default_rng(8), nests=80, survival=(0.97, 0.92)).intervals
    )
    at, step = np.array([0.04, 0.07]), 1e-6
    found = [
        (likelihood.slope(at - way) - likelihood.slope(at + way)) / step / 2
        for way in step * np.eye(2)
    ]
    assert likelihood.information(at) == pytest.approx(np.array(found), rel=1e-5, abs=1e-3)


def test_a_stage_without_losses_leaves_the_product_an_interval_and_says_so() -> None:
    eggs = [(i, 7, 0, i < 5) for i in range(40)]
    young = [(40 + i, 0, 7, False) for i in range(40)]
    result = nest_success(table_of([*eggs, *young]), egg_days=14, young_days=14)
    assert result.estimate == pytest.approx((35 / 40) ** 2)
    assert result.standard_error is None
    assert result.interval is not None
    assert result.interval.low < (35 / 40) ** 2 < result.interval.high
    assert NoLosses in kinds(result)


def test_without_a_day_with_young_the_product_has_no_answer() -> None:
    result = nest_success(equal_intervals(days=7, n=30, lost=3), egg_days=14, young_days=14)
    assert result.estimate is None
    assert "no day on which a nest with young was watched" in result.sentence()


def test_a_group_without_losses_or_nests_is_left_out_and_named() -> None:
    groups = {
        "cone": mayfield(equal_intervals(days=7, n=40, lost=0)),
        "none": mayfield(equal_intervals(days=7, n=40, lost=9)),
        "plate": mayfield(NOTHING),
        "pole": mayfield(equal_intervals(days=7, n=40, lost=2)),
    }
    result = compare_groups(groups)
    assert result.compared == ("none", "pole")
    assert (result.degrees, result.n) == (1, 80)
    left_out = {w.group: w.reason for w in result.warnings if isinstance(w, GroupLeftOut)}
    assert left_out == {"cone": "none of its nests was lost", "plate": "no nest of it was watched"}
    assert "(80" in result.sentence() or "80 nests" in result.sentence()


def test_one_group_cannot_be_compared_and_that_is_stated() -> None:
    result = compare_groups({"cone": mayfield(equal_intervals(days=7, n=40, lost=4))})
    assert (result.p_value, result.degrees) == (None, None)
    assert result.sentence() == "No comparison: fewer than two groups can be compared (40 nests)."


def test_groups_with_the_same_survival_do_not_differ() -> None:
    same = mayfield(equal_intervals(days=7, n=40, lost=4))
    result = compare_groups({"one": same, "two": same})
    assert (result.chi_squared, result.p_value) == pytest.approx((0.0, 1.0))
    assert "shows no difference" in result.sentence()


def test_periods_come_from_the_guide_where_few_nests_are_dated() -> None:
    table = equal_intervals(days=7, n=4, lost=0)
    limits = {
        c.LAY_DAYS: 1,
        c.CLUTCH_USUAL: 5,
        c.INCUBATION_LEAST: 12,
        c.INCUBATION_MOST: 14,
        c.NESTLING_LEAVES: 16,
        c.NESTLING_MOST: 20,
    }
    for column, value in limits.items():
        table.limits[:, column] = value
    found = periods(table)
    assert isinstance(found, Periods)
    # Four days to the fifth egg and 13 of sitting; 18 with young.
    assert (found.eggs.days, found.young.days) == (17.0, 18.0)
    assert found.eggs.source == (
        "the guide, over the species of 4 nests (no nest of this trail well dated)"
    )


def test_periods_come_from_the_trail_where_enough_nests_are_dated() -> None:
    table = equal_intervals(days=7, n=12, lost=0)
    table.limits[:, c.LAY_DAYS] = 1
    rows = table.rows
    # Two eggs on day 101 of a clutch of five: the first on day 100. Hatched on day 116, left
    # between days 133 and 135.
    rows[:, c.EGG_DAY], rows[:, c.EGG_COUNT], rows[:, c.EGGS_MAX] = 101, 2, 5
    rows[:, c.HATCH_LO], rows[:, c.HATCH_HI] = 115, 117
    table.best[:, [FIRST_EGG, HATCH, FLEDGE]] = 100, 116, 134
    rows[:, c.YOUNG_DAY] = 117
    rows[:, c.ALIVE_DAY], rows[:, c.OVER_DAY] = 133, 135
    found = periods(table)
    assert found is not None
    assert (found.eggs.days, found.eggs.n, found.young.days) == (16.0, 12, 18.0)
    assert found.young.source == "12 well dated nests of this trail"
    assert periods(NOTHING) is None
