"""Groups compared by shuffling: no loss is evidence too, and chance finds one in twenty."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.random import default_rng

from layers.nesting.season.losses import losses_by
from layers.nesting.season.resampling import resampled
from layers.nesting.season.tables import SeasonTable
from tests.nesting.season.groups import two_groups
from tests.nesting.season.made import equal_intervals, table_of


def lost_of(guarded: int, bare: int, *, nests: int = 20) -> tuple[SeasonTable, list[str]]:
    """Nests watched for a week in each of two groups, so many of them lost."""
    rows = [(i, 7, 0, i < guarded) for i in range(nests)]
    rows += [(nests + i, 7, 0, i < bare) for i in range(nests)]
    return table_of(rows), ["cone"] * nests + ["none"] * nests


def test_none_of_20_lost_against_10_of_20_is_evidence() -> None:
    table, guards = lost_of(0, 10)
    comparison = losses_by(table, guards).comparison
    assert comparison.compared == ("cone", "none")
    assert comparison.p_value is not None
    # Fisher's exact test of 0 and 10 of 20: p = 0.0004.
    assert comparison.p_value < 0.003


def test_5_of_20_against_7_of_20_shows_nothing_and_says_what_could_have_been_found() -> None:
    table, guards = lost_of(5, 7)
    comparison = losses_by(table, guards).comparison
    assert comparison.p_value is not None
    assert comparison.p_value > 0.3
    # Twelve losses, half of the nests in each group: ln 2 * sqrt(12 / 4) - 1.96 = -0.76.
    assert comparison.power_of_half == pytest.approx(0.22, abs=0.05)


def test_power_rises_with_the_number_of_nests() -> None:
    small, large = (resampled(*lost_of(k, k, nests=n)) for k, n in ((5, 20), (50, 200)))
    assert small is not None
    assert large is not None
    assert small.power_of_half < 0.3
    assert large.power_of_half > 0.8


def test_fewer_than_5_nests_or_no_loss_are_no_comparison() -> None:
    assert resampled(*lost_of(2, 3, nests=4)) is None
    assert resampled(*lost_of(0, 0)) is None
    assert resampled(equal_intervals(days=7, n=30, lost=3), ["one"] * 30) is None


def test_nests_of_a_box_are_shuffled_together() -> None:
    table, guards = lost_of(0, 10)
    # All twenty nests of a group in two boxes: only six ways to share out four boxes.
    table.rows[:, 0] = np.repeat([0, 1, 2, 3], 10)
    found = resampled(table, guards)
    assert found is not None
    assert found.p_value > 0.1


@pytest.mark.slow
def test_without_a_difference_one_comparison_in_twenty_finds_one() -> None:
    random = default_rng(31)
    runs = 200
    found = 0
    for _ in range(runs):
        answer = resampled(*two_groups(random, difference=0.0))
        assert answer is not None
        found += answer.p_value < 0.05
    # Within three standard errors of 5 %.
    assert abs(found / runs - 0.05) < 3 * (0.05 * 0.95 / runs) ** 0.5
