"""Dates against simulated nests whose true days are known; see `scoring.py` for what is counted."""

from collections.abc import Sequence

import numpy as np
import pytest

from data_demo.simulate import deal_cases, simulate_season
from layers.nesting import attempt_columns as c
from layers.nesting.dating import DATED, date_attempts
from layers.nesting.dating.terms import (
    COMPLETE,
    FAILURE,
    FIRST_EGG,
    FLEDGE,
    HATCH,
    INCUBATION_HIGH,
    INCUBATION_LOW,
    NESTLING_HIGH,
    NESTLING_LOW,
)
from tests.nesting.dating.scoring import DateScore, brier, guide_after, reliability, score_dates
from tests.nesting.scoring import read_season

pytestmark = pytest.mark.slow

BOXES = [f"B{i:04d}" for i in range(900)]
SEEDS = (41, 42, 43)
INTERVALS = (3, 7, 10, 14)
EVENTS = {"first egg": FIRST_EGG, "hatching": HATCH, "fledging": FLEDGE}


@pytest.fixture(scope="module", params=INTERVALS, ids=lambda days: f"every {days} days")
def score(request: pytest.FixtureRequest) -> DateScore:
    """Seasons with missed visits and observers' errors, at one visit interval, on a trail whose
    nests of the year before are known.
    """
    total = DateScore()
    earlier = simulate_season(BOXES, year=2025, seed=40, interval_days=request.param)
    guide = guide_after(earlier, BOXES)
    for seed in SEEDS:
        season = simulate_season(BOXES, year=2025, seed=seed, interval_days=request.param)
        score_dates(season, BOXES, total, guide)
    assert total.nests > 2500
    return total


@pytest.mark.parametrize("event", EVENTS.values(), ids=EVENTS)
def test_intervals_hold_the_share_they_claim(score: DateScore, event: int) -> None:
    cover = score.events[event]
    assert len(cover.errors) > 1500
    # This simulator's time in the nest is peaked; at first the guide allows for an even one too.
    above_95, above_80 = (0.98, 0.86) if event == FLEDGE else (0.97, 0.83)
    assert 0.93 <= np.mean(cover.within_95) <= above_95
    assert 0.77 <= np.mean(cover.within_80) <= above_80


def test_days_of_loss_hold_nearly_the_share_they_claim(score: DateScore) -> None:
    # Warm eggs long past hatching count as lost when found so, though parents may sit on.
    cover = score.events[FAILURE]
    assert len(cover.errors) > 500
    assert 0.92 <= np.mean(cover.within_95) <= 0.97
    assert 0.76 <= np.mean(cover.within_80) <= 0.85


def test_first_eggs_are_nearer_the_truth_than_the_midpoint_by_a_third(score: DateScore) -> None:
    assert np.median(score.beside_midpoint) <= 1
    assert np.median(score.beside_midpoint) <= 0.7 * np.median(score.midpoint)
    assert np.mean(score.beside_midpoint) <= 0.7 * np.mean(score.midpoint)


def test_chances_of_fledging_come_true_as_often_as_they_say(score: DateScore) -> None:
    _expect_calibrated(score.fates)


@pytest.mark.parametrize("interval_days", INTERVALS)
def test_chances_come_true_with_hard_cases_too_where_chance_has_its_say(interval_days: int) -> None:
    total = DateScore()
    for seed in SEEDS:
        cases = deal_cases(BOXES, seed=seed)
        season = simulate_season(
            BOXES, year=2025, seed=seed, interval_days=interval_days, cases=cases
        )
        score_dates(season, BOXES, total)
    assert len(total.fates_by_chance) < len(total.fates)
    _expect_calibrated(total.fates_by_chance)


def _expect_calibrated(fates: Sequence[tuple[float, bool]]) -> None:
    assert brier(fates) < 0.04
    for chance, came, nests in reliability(fates):
        # Three standard errors of a share, and 0.05 for what the model does not know.
        assert abs(chance - came) <= 0.05 + 3 * np.sqrt(chance * (1 - chance) / nests)


def test_where_the_end_was_not_recorded_chances_beat_a_guess_by_the_mean(score: DateScore) -> None:
    fledged = float(np.mean([came for _, came in score.open_fates]))
    assert len(score.open_fates) > 200
    assert brier(score.open_fates) < fledged * (1 - fledged)


def test_few_nests_are_called_contradictory(score: DateScore) -> None:
    assert score.contradicted + score.undated < 0.03 * score.nests


def test_best_days_keep_to_the_ranges_of_the_guide() -> None:
    season = simulate_season(BOXES, year=2025, seed=44, interval_days=7)
    histories = read_season(season, BOXES)
    dates = date_attempts(histories)
    spans = dates.tables.spans[histories.rows[:, c.SPECIES] + 1]
    sure = (dates.how == DATED) & (dates.hatched > 0.999)
    sat = (dates.best[:, HATCH] - dates.best[:, COMPLETE])[sure]
    assert sure.sum() > 500
    assert (spans[sure, INCUBATION_LOW] <= sat).all()
    assert (sat <= spans[sure, INCUBATION_HIGH]).all()
    sure = (dates.how == DATED) & (dates.fledged > 0.999)
    stayed = (dates.best[:, FLEDGE] - dates.best[:, HATCH])[sure]
    assert sure.sum() > 200
    assert (spans[sure, NESTLING_LOW] <= stayed).all()
    assert (stayed <= spans[sure, NESTLING_HIGH]).all()
