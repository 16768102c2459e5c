"""The trend of the risk over the years, held against a likelihood written down anew, and dice."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.random import Generator, default_rng
from numpy.typing import NDArray
from scipy.optimize import minimize

from layers.nesting import attempt_columns as c
from layers.nesting.season.doubts import FewYears
from layers.nesting.season.tables import SeasonTable
from layers.nesting.season.year_risk import risk_trend
from tests.nesting.season.made import table_of

LOOKS, DAYS = 5, 7


def thrown(
    random: Generator, *, years: int, nests: int, change: float, scatter: float = 0.0
) -> SeasonTable:
    """Nests of some years whose log risk rises by `change` a year; all seen weekly from one day."""
    rows: list[tuple[int, int, int, bool]] = []
    seasons: list[int] = []
    for year in range(years):
        risk = 0.012 * np.exp(change * (year - (years - 1) / 2) + random.normal(0, scatter))
        for lost_on in random.exponential(1 / risk, nests):
            for look in range(LOOKS):
                rows.append((len(seasons), DAYS, 0, bool(lost_on < (look + 1) * DAYS)))
                if rows[-1][3]:
                    break
            seasons.append(2020 + year)
    table = table_of(rows)
    table.rows[:, c.SEASON] = seasons
    return table


def by_hand(table: SeasonTable) -> float:
    """The change of the log risk a year at the top of the likelihood of Johnson 1979."""
    of = table.intervals
    years = table.rows[of.nest, c.SEASON] - 2020.0
    days = (of.egg_days + of.young_days).astype(float)

    def fall(at: NDArray[np.float64]) -> float:
        risk = np.exp(at[0] + at[1] * years) * days
        return float(risk[~of.lost].sum() - np.log(-np.expm1(-risk[of.lost])).sum())

    found = minimize(
        fall, np.array([-4.0, 0.0]), method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-12}
    )
    return float(found.x[1])


def test_the_change_is_that_of_the_highest_likelihood() -> None:
    table = thrown(default_rng(1), years=4, nests=40, change=-0.2)
    change = risk_trend(table)
    assert change.estimate is not None
    assert np.log1p(change.estimate) == pytest.approx(by_hand(table), abs=2e-4)
    assert (change.n, change.parts["nests watched"]) == (4, 160)


def test_two_years_have_no_trend_and_no_loss_gives_no_answer() -> None:
    few = risk_trend(thrown(default_rng(2), years=2, nests=20, change=0.0))
    assert few.estimate is None
    assert any(isinstance(doubt, FewYears) for doubt in few.warnings)
    lossless = table_of([(nest, 30, 0, False) for nest in range(30)])
    lossless.rows[:, c.SEASON] = np.repeat([2024, 2025, 2026], 10)
    assert risk_trend(lossless).estimate is None


@pytest.mark.long
@pytest.mark.parametrize(("years", "scatter"), [(4, 0.0), (5, 0.4), (8, 0.2)])
def test_intervals_hold_the_true_change(years: int, scatter: float) -> None:
    random = default_rng(3)
    true, seasons = np.log(0.9), 100
    held, found = 0, []
    for _ in range(seasons):
        change = risk_trend(thrown(random, years=years, nests=50, change=true, scatter=scatter))
        assert change.estimate is not None
        assert change.interval is not None
        held += change.interval.low <= np.expm1(true) <= change.interval.high
        found.append(np.log1p(change.estimate))
    # Of 100, fewer than 89 of 95 come once in a hundred times.
    assert held >= 89
    assert abs(np.mean(found) - true) < 3 * np.std(found) / np.sqrt(seasons)


def test_years_that_put_no_bound_on_the_change_give_no_answer() -> None:
    # One loss in each of three years of three nests.
    rows = [(nest, 7, 0, nest % 3 == 0) for nest in range(9)]
    table = table_of(rows)
    table.rows[:, c.SEASON] = np.repeat([2024, 2025, 2026], 3)
    change = risk_trend(table)
    assert change.estimate is None
    assert "no bound that these years put on it" in change.sentence()
