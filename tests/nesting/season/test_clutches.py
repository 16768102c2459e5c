"""Clutches, hatching and broods; means, their errors and the seeds of intervals."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from layers.nesting import attempt_columns as c
from layers.nesting.season.box_results import box_results
from layers.nesting.season.clutches import brood_size, clutch_size, hatching_success
from layers.nesting.season.doubts import NoData, SmallSample
from layers.nesting.season.means import mean_of
from layers.nesting.season.result import Measure
from layers.nesting.season.tables import SeasonTable
from layers.nesting.season.young import young_fledged
from tests.nesting.notebook import BLUEBIRD, read, seen
from tests.nesting.season.made import dated_table, equal_intervals, table_of
from tests.nesting.season.test_exposure import EMPTY, HATCHED, LAYING

MEASURES: list[Callable[[SeasonTable], Measure]] = [clutch_size, hatching_success, brood_size]
OLD = (*HATCHED, seen("06-02", young=4, species=BLUEBIRD))
LEFT = seen("06-08", **EMPTY, signs="flattened;droppings")


def table(*visits: dict[str, Any]) -> SeasonTable:
    return dated_table(read(*visits), on=dt.date(2026, 12, 31))


def of_counts(**columns: list[int]) -> SeasonTable:
    """Attempts in boxes of their own with some columns set."""
    size = len(next(iter(columns.values())))
    made = equal_intervals(days=7, n=size, lost=0)
    for name, values in columns.items():
        made.rows[:, getattr(c, name)] = values
    return made


@pytest.mark.parametrize("measure", MEASURES)
def test_no_attempt_is_no_answer_in_a_plain_sentence(
    measure: Callable[[SeasonTable], Measure],
) -> None:
    result = measure(table_of([]))
    assert (result.estimate, result.n) == (None, 0)
    assert isinstance(result.warnings[0], NoData)
    assert ": no answer: there is no " in result.sentence()


@pytest.mark.parametrize("measure", MEASURES)
def test_one_attempt_gives_a_number_without_an_interval(
    measure: Callable[[SeasonTable], Measure],
) -> None:
    result = measure(table(*OLD, LEFT))
    assert result.estimate is not None
    assert (result.interval, result.standard_error, result.n) == (None, None, 1)
    assert any(isinstance(doubt, SmallSample) for doubt in result.warnings)


def test_one_brood_followed_to_its_end_gives_its_own_counts() -> None:
    whole = table(*OLD, LEFT)
    assert [measure(whole).estimate for measure in MEASURES] == [5, 1.0, 5]


def test_a_clutch_counted_once_may_be_incomplete_and_does_not_count() -> None:
    result = clutch_size(table(LAYING[1], seen("05-06", **EMPTY, signs="nest torn")))
    assert result.left_out == {"more eggs may have been laid after the last count": 1}


def test_a_last_count_shortly_before_hatching_gives_a_complete_clutch() -> None:
    once = seen("05-17", eggs=5, species=BLUEBIRD)
    assert clutch_size(table(once, HATCHED[-1])).estimate == 5


def test_a_clutch_with_vanished_eggs_does_not_count() -> None:
    fewer = seen("05-17", eggs=4, adult="sitting", species=BLUEBIRD)
    same = seen("05-20", eggs=4, adult="sitting", species=BLUEBIRD)
    result = clutch_size(table(*LAYING[:3], fewer, same))
    assert result.left_out == {"eggs vanished, so the clutch may have been larger": 1}


def test_a_clutch_that_never_hatched_counts_as_none_hatched() -> None:
    late = [
        seen(d, eggs=5, eggs_warm="yes", species=BLUEBIRD)
        for d in ("05-24", "05-31", "06-07", "06-14")
    ]
    result = hatching_success(table(*LAYING, *late))
    assert (result.estimate, result.n) == (0.0, 1)


def test_a_clutch_raided_before_hatching_does_not_count_for_hatching() -> None:
    result = hatching_success(table(*LAYING, seen("05-18", **EMPTY, signs="nest torn")))
    assert result.left_out == {"it was lost before hatching": 1}


def test_a_brood_first_seen_old_does_not_count_for_brood_size() -> None:
    old = seen("06-02", young=4, young_days=14, species=BLUEBIRD)
    result = brood_size(table(*LAYING, old))
    assert result.left_out == {"its young were not counted soon after hatching": 1}


def test_the_mean_and_error_of_single_attempts_are_the_usual_ones() -> None:
    values = [4, 5, 5, 6, 3, 5, 4, 4, 6, 5, 5]
    result = clutch_size(of_counts(EGGS_MAX=values, EGG_DAY=[9] * 11, STABLE=[1] * 11))
    assert result.estimate == pytest.approx(np.mean(values))
    assert result.standard_error == pytest.approx(np.std(values, ddof=1) / math.sqrt(11))
    assert result.parts == {"sum": 52, "out of": 11}


def test_the_error_of_a_ratio_is_the_formula_of_its_docstring() -> None:
    tops, bottoms, groups = (np.array(v) for v in ([3, 4, 2, 5], [5, 4, 5, 5], [0, 1, 1, 2]))
    mean = mean_of(tops, bottoms, groups, seed=1)
    value = 14 / 19
    residuals = np.array([3 - 5 * value, 6 - 9 * value, 5 - 5 * value])
    assert mean.value == pytest.approx(value)
    assert mean.standard_error == pytest.approx(math.sqrt(3 / 2 * (residuals @ residuals)) / 19)


def test_the_same_seed_gives_the_same_interval_and_another_seed_another() -> None:
    values = np.random.default_rng(1).integers(2, 8, 60)
    ones, groups = np.ones(60, int), np.arange(60)
    first, again, other = (mean_of(values, ones, groups, seed=s) for s in (1, 1, 2))
    assert first == again
    assert first.interval != other.interval


def test_the_bootstrap_interval_is_near_the_normal_one_for_many_boxes() -> None:
    values = np.random.default_rng(3).integers(2, 8, 900)
    mean = mean_of(values, np.ones(900, int), np.arange(900), seed=1)
    assert mean.interval is not None
    assert mean.standard_error is not None
    assert mean.interval.low == pytest.approx(mean.value - 1.96 * mean.standard_error, abs=0.015)
    assert mean.interval.high == pytest.approx(mean.value + 1.96 * mean.standard_error, abs=0.015)


def test_attempts_alike_within_boxes_make_the_interval_wider() -> None:
    values = np.repeat(np.random.default_rng(4).integers(2, 8, 40), 3)
    ones = np.ones(120, int)
    apart = mean_of(values, ones, np.arange(120), seed=1)
    alike = mean_of(values, ones, np.repeat(np.arange(40), 3), seed=1)
    assert apart.standard_error is not None
    assert alike.standard_error is not None
    assert alike.standard_error > 1.5 * apart.standard_error


def test_each_box_has_its_attempts_fates_and_young() -> None:
    made = of_counts(FLEDGED=[4, 0, c.MISSING, c.MISSING], BOX=[0, 0, 1, 2])
    made.fate[:] = [c.FATE_FLEDGED, c.FATE_FAILED, c.FATE_UNKNOWN, c.FATE_FAILED]
    made.rows[[1, 3], c.CAUSE] = [c.PREDATOR, c.NEST_REMOVED]
    found = {result.box: result for result in box_results(made, young_fledged(made))}
    assert list(found) == ["B0", "B1", "B2", "B3"]
    assert (found["B0"].attempts, found["B0"].fledged, found["B0"].young_fledged) == (2, 1, 4)
    assert found["B0"].losses == {"predator": 1}
    assert (found["B1"].unknown, found["B1"].young_fledged) == (1, None)
    assert (found["B2"].young_fledged, found["B2"].losses) == (0, {"nest removed": 1})
    assert (found["B3"].attempts, found["B3"].young_fledged) == (0, 0)


def test_eggs_first_counted_beside_young_are_no_clutch_counted() -> None:
    found = seen("05-20", young=4, young_days=5, eggs=1, species=BLUEBIRD)
    result = clutch_size(table(found, seen("05-27", young=4, eggs=1, species=BLUEBIRD)))
    assert result.n == 0
    assert result.left_out == {"its eggs were not counted": 1}
