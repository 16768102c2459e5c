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

from tests.nesting.season.raw_seasons import Keeper, Nature, raw_season
from tests.nesting.season.raw_truth import Judged, judged

KEEPERS = {
    "always opened": Keeper(),
    "closed days": Keeper(closed=True),
    "closed days, signs at 30 %": Keeper(closed=True, leaving=0.3, losses=0.3),
    "closed days, no signs": Keeper(closed=True, leaving=0.0, losses=0.0),
}
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
@pytest.mark.parametrize("keeper", ["closed days", "closed days, no signs"])
def test_a_dozen_seasons_hold_the_truth(keeper: str) -> None:
    check(list(seasons(KEEPERS[keeper], Nature(), 500, 512)))


@pytest.mark.long
@pytest.mark.parametrize("keeper", KEEPERS)
def test_two_hundred_seasons_hold_the_truth(keeper: str) -> None:
    check(list(seasons(KEEPERS[keeper], Nature(), 1000, 1200)))
