"""Use of boxes, first eggs, losses by group and trends."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from layers.nesting import attempt_columns as c
from layers.nesting.dating import date_attempts
from layers.nesting.dating.terms import FIRST_EGG
from layers.nesting.season.box_use import box_use
from layers.nesting.season.doubts import FewYears, NoData, SmallSample, WideDating
from layers.nesting.season.losses import loss_rate, losses_by
from layers.nesting.season.mayfield import mayfield
from layers.nesting.season.phenology import broods, first_eggs, weighted_quantiles
from layers.nesting.season.result import Measure, exact_binomial
from layers.nesting.season.tables import SeasonTable
from layers.nesting.season.trend import trend
from layers.nesting.timeline import NAME_NOT_RECORDED, Service
from tests.nesting.notebook import BLUEBIRD, read, seen
from tests.nesting.season.made import dated_table, equal_intervals, table_of
from tests.nesting.season.test_exposure import LAYING


def trail(*, boxes: int, used: int, eggs_on: tuple[int, ...] = (100, 119)) -> SeasonTable:
    """A trail of which the first boxes are used, with first eggs on these days in turn."""
    table = equal_intervals(days=7, n=used, lost=0)
    table.best[:, FIRST_EGG] = np.resize(eggs_on, used)
    return replace(
        table,
        boxes=tuple(f"B{i}" for i in range(boxes)),
        species_names=(BLUEBIRD,),
        checked=np.column_stack([np.arange(boxes), np.full(boxes, 2026)]),
    )


def test_boxes_used_are_those_with_eggs_among_those_looked_into() -> None:
    result = box_use(trail(boxes=20, used=8), season=2026)
    assert (result.used.estimate, result.used.n) == (0.4, 20)
    assert (result.looked_into, result.standing, result.started_only) == (20, 20, 0)
    # Exact binomial interval of 8 of 20, by beta quantiles.
    interval = result.used.interval
    assert interval is not None
    assert interval.low == pytest.approx(stats.beta.ppf(0.025, 8, 13))
    assert interval.high == pytest.approx(stats.beta.ppf(0.975, 9, 12))


def test_a_box_no_one_checked_is_left_out_with_its_reason() -> None:
    table = trail(boxes=20, used=8)
    result = box_use(replace(table, checked=table.checked[:16]), season=2026)
    assert (result.used.estimate, result.used.n) == (0.5, 16)
    assert result.used.left_out == {"it was not checked": 4}


def test_a_box_that_stood_half_the_nesting_time_counts_half() -> None:
    table = trail(boxes=20, used=8)
    # First eggs on days 100 to 119: box 19 came on day 110, box 18 after the last.
    since = np.full(20, -(10**6), np.int32)
    since[19], since[18] = 110, 120
    result = box_use(table, season=2026, service=Service(since, np.full(20, 10**6, np.int32)))
    assert result.used.parts["available, by days"] == pytest.approx(18.5)
    assert result.used.estimate == pytest.approx(8 / 18.5)
    assert result.used.left_out == {"it did not stand in the nesting time": 1}


def test_boxes_used_by_each_species_are_distinguished() -> None:
    table = trail(boxes=20, used=8)
    table.rows[:3, c.SPECIES] = 0
    by_species = box_use(table, season=2026).by_species
    assert {name: measure.estimate for name, measure in by_species.items()} == {
        BLUEBIRD: 3 / 20,
        NAME_NOT_RECORDED: 5 / 20,
    }


def test_a_box_with_material_alone_was_started_not_used() -> None:
    table = trail(boxes=20, used=8)
    table.rows[:2, c.LAID], table.best[:2, FIRST_EGG] = 0, c.MISSING
    result = box_use(table, season=2026)
    assert (result.used.estimate, result.started_only) == (6 / 20, 2)


def test_boxes_none_of_which_were_used_have_a_share_of_0_with_an_upper_end() -> None:
    used = box_use(trail(boxes=20, used=0), season=2026).used
    assert (used.estimate, used.standard_error) == (0.0, None)
    assert used.interval is not None
    assert used.interval.high == pytest.approx(1 - 0.025 ** (1 / 20))


def test_a_season_without_looks_has_no_share() -> None:
    result = box_use(trail(boxes=20, used=8), season=2019)
    assert result.used.estimate is None
    assert result.used.sentence() == (
        "Boxes used: no answer: there is no box in place and checked (0 boxes checked)."
    )


def test_a_clopper_pearson_interval_covers_both_ends() -> None:
    assert exact_binomial(0, 5).low == 0.0
    assert exact_binomial(5, 5).high == 1.0


def test_first_eggs_have_quartiles_by_their_weights() -> None:
    assert weighted_quantiles(np.array([5, 1, 3]), np.ones(3), (0.25, 0.5, 0.75)) == (1, 3, 5)
    heavy = weighted_quantiles(np.array([1, 2, 3]), np.array([1.0, 1.0, 8.0]), (0.25, 0.5))
    assert heavy == (3, 3)


def test_first_eggs_name_the_earliest_the_median_and_the_latest_day() -> None:
    table = trail(boxes=9, used=9, eggs_on=tuple(range(20_000, 20_009)))
    found = first_eggs(table)
    epoch = dt.date(1970, 1, 1)
    assert found.earliest == epoch + dt.timedelta(20_000)
    assert found.median == epoch + dt.timedelta(20_004)
    assert found.latest == epoch + dt.timedelta(20_008)
    assert found.widths == (1,) * 9
    assert "(9 attempts)" in found.sentence()
    assert found.warnings == ()


def test_without_eggs_there_are_no_dates() -> None:
    found = first_eggs(table_of([]))
    assert (found.median, found.n) == (None, 0)
    assert isinstance(found.warnings[0], NoData)
    assert found.sentence().endswith("(0 attempts).")


def test_a_first_egg_has_the_day_and_the_width_of_its_dating() -> None:
    histories = read(*LAYING)
    whole = dated_table(histories, on=dt.date(2026, 5, 18))
    dated = date_attempts(histories).of(0).first_egg
    assert dated is not None
    found = first_eggs(whole)
    assert found.median == dated.best
    first, last = dated.days_95
    assert found.widths == ((last - first).days + 1,)


def test_a_nest_found_late_is_dated_roughly_and_doubted() -> None:
    whole = dated_table(
        read(seen("05-10", eggs=5, adult="sitting", species=BLUEBIRD)), on=dt.date(2026, 5, 18)
    )
    found = first_eggs(whole)
    assert WideDating(1, 1, 10) in found.warnings
    assert SmallSample(1, 8, "attempts") in found.warnings


def test_broods_count_up_after_one_that_fledged_only() -> None:
    table = trail(boxes=4, used=4)
    table.rows[:, c.BOX] = 0
    table.fate[:] = [c.FATE_FAILED, c.FATE_FLEDGED, c.FATE_FLEDGED, c.FATE_UNKNOWN]
    assert broods(table) == ["first", "first", "second", "third or later"]


def losing(n: int, lost: int, cause: int) -> SeasonTable:
    table = equal_intervals(days=4, n=n, lost=lost)
    table.rows[:, c.CAUSE] = np.where(table.fate == c.FATE_FAILED, cause, c.NO_CAUSE)
    return table


def test_losses_are_counted_by_group_and_cause_with_their_nest_days() -> None:
    table = losing(50, 10, c.PREDATOR)
    guards = ["cone" if i % 2 else None if i == 0 else "none" for i in range(50)]
    result = losses_by(table, guards)
    cone, none = result.groups
    assert (cone.group, cone.nests, cone.enough) == ("cone", 25, True)
    # Five of 25 lost halfway in four days: 20 * 4 + 5 * 2.
    assert cone.nest_days == 90
    assert cone.by_cause["predator"].estimate == pytest.approx(5 / 90)
    assert cone.sentence() == "cone: 5 losses in 90 nest-days of 25 nests (5 predator)."
    assert (none.nests, result.without_group) == (24, 1)
    assert result.comparison.compared == ("cone", "none")


def test_too_few_nests_is_an_answer() -> None:
    result = losses_by(losing(30, 6, c.PREDATOR), ["cone"] * 25 + ["plate"] * 5)
    plate = result.groups[1]
    assert not plate.enough
    assert plate.sentence() == (
        "plate: not enough data (0 losses in 20 nest-days of 5 nests; 20 nests are needed)."
    )
    # Shuffling compares groups from five nests on, and says where one is small.
    assert result.comparison.compared == ("cone", "plate")
    assert result.comparison.warnings == (SmallSample(5, 20, "nests watched"),)


@pytest.mark.parametrize("plates", [[26, 27, 28, 29], [5, 27, 28, 29]], ids=["unhurt", "one lost"])
def test_a_group_of_fewer_than_five_nests_is_left_out_of_the_test(plates: list[int]) -> None:
    guards = ["plate" if nest in plates else "cone" for nest in range(30)]
    result = losses_by(losing(30, 6, c.PREDATOR), guards)
    assert [group.nests for group in result.groups] == [26, 4]
    assert result.comparison.p_value is None
    assert "plate" not in result.comparison.compared


def test_without_any_group_there_is_nothing_to_compare() -> None:
    result = losses_by(losing(5, 1, c.PREDATOR), [None] * 5)
    assert (result.groups, result.without_group) == ((), 5)
    assert "fewer than two groups" in result.comparison.sentence()


def test_the_rate_of_a_cause_has_the_exact_poisson_interval() -> None:
    rate = loss_rate(3, 100, cause="insects")
    assert rate.interval is not None
    # Garwood: the Poisson chance of 3 or more at the low end, of 3 or fewer at the high, is 2.5 %.
    assert stats.poisson.sf(2, 100 * rate.interval.low) == pytest.approx(0.025)
    assert stats.poisson.cdf(3, 100 * rate.interval.high) == pytest.approx(0.025)
    assert loss_rate(0, 0, cause="insects").estimate is None


def yearly(*values: float | None) -> dict[int, Measure]:
    like = mayfield(equal_intervals(days=7, n=40, lost=4))
    return {2020 + i: replace(like, estimate=value) for i, value in enumerate(values)}


def test_a_trend_is_the_least_squares_slope_with_its_t_interval() -> None:
    values = [0.95, 0.96, 0.955, 0.97, 0.965, 0.98]
    line = stats.linregress(range(6), values)
    found = trend(yearly(*values))
    assert found.estimate == pytest.approx(line.slope)
    assert found.standard_error == pytest.approx(line.stderr)
    assert found.interval is not None
    reach = stats.t.ppf(0.975, 4) * line.stderr
    assert found.interval.high - line.slope == pytest.approx(reach)
    assert found.warnings == ()


def test_years_without_a_number_are_passed_over_and_few_are_doubted() -> None:
    found = trend(yearly(0.95, None, 0.96, 0.97))
    assert (found.n, found.parts["last year"]) == (3, 2023)
    assert SmallSample(3, 6, "years") in found.warnings


@pytest.mark.parametrize("values", [(), (0.95,), (0.95, 0.96), (None, None, None)])
def test_fewer_than_three_years_have_no_trend(values: tuple[float | None, ...]) -> None:
    found = trend(yearly(*values))
    years = sum(value is not None for value in values)
    assert (found.estimate, found.n) == (None, years)
    assert FewYears(years) in found.warnings
    assert "no third year with a number" in found.sentence()
