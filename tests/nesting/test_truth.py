"""Reading against simulated nests whose true story is known."""

import datetime as dt
from dataclasses import replace

import pytest

from data_demo.hard_cases import HARD_CASES
from data_demo.simulate import Season, deal_cases, simulate_season
from tests.nesting.scoring import Score, score

pytestmark = pytest.mark.slow

BOXES = [f"B{i:04d}" for i in range(900)]
SEEDS = (11, 12, 13)


def made(seed: int, *, interval_days: int = 7) -> Season:
    cases = deal_cases(BOXES, seed=seed)
    assert set(cases.values()) == set(HARD_CASES), "every hard case must be in the sample"
    return simulate_season(BOXES, year=2025, seed=seed, cases=cases, interval_days=interval_days)


@pytest.fixture(scope="module")
def weekly() -> dict[int, tuple[Season, Score]]:
    seasons = {seed: made(seed) for seed in SEEDS}
    return {seed: (season, score(season, BOXES)) for seed, season in seasons.items()}


def test_the_sample_holds_at_least_two_thousand_nests(
    weekly: dict[int, tuple[Season, Score]],
) -> None:
    assert sum(len(season.truth) for season, _ in weekly.values()) >= 2000


@pytest.mark.parametrize("seed", SEEDS)
def test_boxes_visited_weekly_get_the_right_number_of_attempts(
    weekly: dict[int, tuple[Season, Score]], seed: int
) -> None:
    _, result = weekly[seed]
    # Of the others most were lost and laid again between two looks.
    assert result.number_rate() >= 0.98, result.wrong_number


@pytest.mark.parametrize("seed", SEEDS)
def test_attempts_get_the_species_that_was_recorded(
    weekly: dict[int, tuple[Season, Score]], seed: int
) -> None:
    _, result = weekly[seed]
    assert result.named > 700
    assert result.species_rate() >= 0.99


@pytest.mark.parametrize("seed", SEEDS)
def test_fates_are_right_where_the_visits_hold_evidence(
    weekly: dict[int, tuple[Season, Score]], seed: int
) -> None:
    _, result = weekly[seed]
    assert result.telling.total() > 700
    assert result.fate_rate() >= 0.95, result.wrong_fate


@pytest.mark.parametrize("seed", SEEDS)
def test_no_brood_lost_before_the_shortest_nestling_period_is_called_fledged(
    weekly: dict[int, tuple[Season, Score]], seed: int
) -> None:
    _, result = weekly[seed]
    assert result.fledged_too_young == []


@pytest.mark.parametrize("interval_days", [3, 10, 14])
def test_other_visit_intervals_never_call_a_brood_fledged_that_was_lost_too_young(
    interval_days: int,
) -> None:
    result = score(made(21, interval_days=interval_days), BOXES)
    assert result.fledged_too_young == []
    assert result.fate_rate() >= 0.95


@pytest.mark.parametrize("interval_days", [7, 14])
def test_nests_first_looked_into_when_they_have_young_get_the_right_fate(
    interval_days: int,
) -> None:
    season = made(21, interval_days=interval_days)
    late = tuple(row for row in season.visits if row["seen_on"] >= dt.date(2025, 5, 25))
    result = score(replace(season, visits=late), BOXES)
    assert result.telling.total() > 300
    assert result.fledged_too_young == []
    assert result.fate_rate() >= 0.95
