"""Seasons with a known truth, from raw visits to the season's numbers.

Boxes opened always or left closed, signs written or not: intervals hold the truth, and means are
not off. Bounds on shares are those that a right method stays within in 999 of 1000 runs (exact
binomial). `python -m tests.bench.season` prints the table of hundreds of seasons.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest
from scipy import stats

from layers.nesting import attempt_columns as c
from layers.nesting.season.comparison import SURE
from layers.nesting.season.periods import periods
from layers.nesting.season.resampling import resampled
from tests.nesting.season.raw_seasons import (
    AS_ASSUMED,
    NOT_ASSUMED,
    ROWS,
    Keeper,
    Nature,
    raw_season,
)
from tests.nesting.season.raw_tables import raw_table
from tests.nesting.season.raw_truth import Judged, judged

RATES = ("success", "eggs", "young", "total")


def seasons(keeper: Keeper, nature: Nature, first: int, last: int) -> Iterator[Judged]:
    for seed in range(first, last):
        yield judged(raw_season(seed, keeper=keeper, nature=nature), nature)


def check(found: list[Judged]) -> None:
    runs = len(found)
    for name in RATES:
        low, _ = stats.binom.interval(0.999, runs, 0.9 if name == "total" else 0.92)
        assert sum(one.holds[name] for one in found) >= low, name
    # Three standard errors of the mean over seasons, and the bias that is allowed.
    off = np.array([one.success - one.all_seeing for one in found])
    assert abs(off.mean()) < 0.02 + 3 * off.std() / np.sqrt(runs)
    young = np.array([one.total / one.true_total - 1 for one in found])
    assert abs(young.mean()) < 0.02 + 3 * young.std() / np.sqrt(runs)


@pytest.mark.slow
@pytest.mark.parametrize("row", ["closed days, signs 60/40", "closed days, no signs"])
def test_a_dozen_seasons_hold_the_truth(row: str) -> None:
    check(list(seasons(*ROWS[row], 500, 512)))


@pytest.mark.long
@pytest.mark.parametrize("row", ["boxes opened always, signs 60/40", "closed days, signs 60/40"])
def test_success_in_four_thousand_boxes_is_within_a_point_of_what_happened(row: str) -> None:
    """As many nests as 67 seasons have: chance puts it off by about 0.4 points."""
    keeper, nature = ROWS[row]
    season = raw_season(77, boxes=4000, keeper=keeper, nature=nature)
    table = raw_table(season)
    lengths = periods(table)
    assert lengths is not None
    days = (lengths.eggs.days, lengths.young.days)
    success = np.exp(-np.dot(table.likelihood.best.hazards, days))
    assert success == pytest.approx(season.all_seeing_success(), abs=0.01)


@pytest.mark.long
@pytest.mark.parametrize("row", AS_ASSUMED)
def test_two_hundred_seasons_hold_the_truth(row: str) -> None:
    check(list(seasons(*ROWS[row], 1000, 1200)))


@pytest.mark.long
@pytest.mark.parametrize("guarded", [True, False])
def test_two_hundred_seasons_hold_the_truth_of_boxes_with_and_without_a_guard(
    guarded: bool,
) -> None:
    nature = Nature(guarded=0.5, guard_ratio=0.4)
    check(
        [
            judged(
                raw_season(seed, keeper=Keeper(closed=True), nature=nature), nature, guarded=guarded
            )
            for seed in range(1000, 1200)
        ]
    )


@pytest.mark.long
@pytest.mark.parametrize("row", NOT_ASSUMED)
def test_what_the_model_does_not_assume_puts_success_off_by_no_more_than_is_known(row: str) -> None:
    """The bounds are those of the prototype's figures: up to 8 points, and 83 % that hold."""
    found = list(seasons(*ROWS[row], 1000, 1200))
    off = np.array([one.success - one.all_seeing for one in found])
    assert abs(off.mean()) < 0.08 + 3 * off.std() / np.sqrt(len(found))
    low, _ = stats.binom.interval(0.999, len(found), 0.83)
    assert sum(one.holds["eggs"] for one in found) >= low


@pytest.mark.long
def test_groups_without_a_difference_are_called_different_in_one_of_twenty() -> None:
    nature = Nature(guarded=0.5)
    found = 0
    for seed in range(2000, 2200):
        season = raw_season(seed, keeper=Keeper(closed=True), nature=nature)
        table = raw_table(season)
        boxes = [table.boxes[code] for code in table.rows[:, c.BOX]]
        labels = ["guard" if box in season.guarded else "none" for box in boxes]
        compared = resampled(table, labels)
        found += compared is not None and compared.p_value < SURE
    low, high = stats.binom.interval(0.999, 200, 0.05)
    assert low <= found <= high
