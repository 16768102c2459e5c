"""All courses that visits allow: equal to the known one where it is known, fair where it is not."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.random import default_rng

from layers.nesting.season.course_likelihood import N_HAZARDS, CourseLikelihood
from layers.nesting.season.courses import NO_SIGN, SIGNS_OF_LEAVING, SIGNS_OF_LOSS, SURE_LOSS
from layers.nesting.season.filling import FLEDGED, LOST_EGGS, LOST_YOUNG
from layers.nesting.season.signs import found_chances, sign_beliefs, sign_chances
from tests.nesting.season.interval_likelihood import IntervalLikelihood
from tests.nesting.season.made import table_of, thrown
from tests.nesting.season.raw_seasons import Keeper, raw_season
from tests.nesting.season.raw_tables import raw_table

STAGES = [(1.0, 0.0), (0.0, 1.0), (17.0, 18.0)]


@pytest.mark.parametrize("days", STAGES)
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_known_courses_give_the_estimate_interval_and_error_of_known_intervals(
    seed: int, days: tuple[float, float]
) -> None:
    table = thrown(default_rng(seed), nests=60, survival=(0.975, 0.95))
    known, courses = IntervalLikelihood.of(table.intervals), table.likelihood
    assert courses.best.hazards == pytest.approx(known.best(), rel=1e-8)
    assert courses.profile_interval(days) == pytest.approx(known.profile_interval(days), rel=1e-8)
    information = known.information(known.best())
    error = math.sqrt(np.array(days) @ np.linalg.solve(information, np.array(days)))
    assert courses.error(days) == pytest.approx(error, rel=1e-7)


def test_without_a_loss_the_estimate_is_1_and_the_interval_that_of_the_profile() -> None:
    table = table_of([(i, 7, 7, False) for i in range(30)])
    low, high = table.likelihood.profile_interval((1.0, 0.0))
    assert table.likelihood.best.hazards.tolist() == [0.0, 0.0]
    assert low == 0.0
    # -210 h = -chi2 / 2 at the end.
    assert high == pytest.approx(3.841458820694124 / 2 / 210, rel=1e-8)


@pytest.fixture(scope="module")
def raw() -> CourseLikelihood:
    return raw_table(raw_season(4, boxes=30, keeper=Keeper(closed=True))).likelihood


def test_the_gradient_and_the_curve_are_the_numeric_ones(raw: CourseLikelihood) -> None:
    at = np.array([0.013, 0.02, 0.4, -0.3, -0.1, -3.0, -2.5, -1.2])
    value, slope, curve = raw.evaluate(at)
    assert value == pytest.approx(raw.log_likelihood(at))
    step = 1e-6 * np.eye(len(at))
    rise = [(raw.log_likelihood(at + way) - raw.log_likelihood(at - way)) / 2e-6 for way in step]
    assert slope == pytest.approx(np.array(rise), rel=1e-5, abs=1e-4)
    bend = [(raw.evaluate(at + way)[1] - raw.evaluate(at - way)[1]) / 2e-6 for way in step]
    assert curve == pytest.approx(np.array(bend), rel=1e-4, abs=2e-3)


def test_no_parameters_near_the_best_have_a_higher_likelihood(raw: CourseLikelihood) -> None:
    random, best = default_rng(6), raw.best
    for _ in range(100):
        other = best.values + random.normal(scale=0.2, size=len(best.values)) * np.maximum(
            np.abs(best.values), 0.01
        )
        other[:N_HAZARDS] = np.abs(other[:N_HAZARDS])
        assert raw.log_likelihood(other) <= best.log_likelihood


def test_many_sets_of_parameters_at_once_give_what_each_gives(raw: CourseLikelihood) -> None:
    sets = np.array([raw.best.values, raw.best.values * 0.9])
    logs, chances = raw.drawn(sets)
    assert logs == pytest.approx([raw.log_likelihood(one) for one in sets])
    assert chances[0] != pytest.approx(chances[1], abs=1e-6)
    assert ((chances >= 0) & (chances <= 1 + 1e-12)).all()


def test_what_may_be_found_after_an_end_has_a_chance_of_1_in_all() -> None:
    rates = np.array([0.7, -0.2, -1.0, -3.0, -2.5, -1.2])
    found = found_chances(rates)
    for end in (FLEDGED, LOST_YOUNG, LOST_EGGS):
        assert found[
            end, [SIGNS_OF_LEAVING, SIGNS_OF_LOSS, NO_SIGN, SURE_LOSS]
        ].sum() == pytest.approx(1)
    signs = sign_chances(rates)
    step = 1e-6
    for rate in range(len(rates)):
        way = step * (np.arange(len(rates)) == rate)
        with np.errstate(divide="ignore", invalid="ignore"):
            rise = (np.log(found_chances(rates + way)) - np.log(found_chances(rates - way))) / step
        own = np.isfinite(rise)
        assert signs.slope[:, :, rate][own] == pytest.approx(rise[own] / 2, abs=1e-6)


def test_who_writes_of_lost_eggs_is_believed_to_write_of_lost_young() -> None:
    beliefs = sign_beliefs(np.array([SIGNS_OF_LEAVING] * 6 + [SIGNS_OF_LOSS] * 2 + [NO_SIGN] * 8))
    assert beliefs is not None
    alike, apart = beliefs.mean.copy(), beliefs.mean.copy()
    alike[[LOST_YOUNG, LOST_EGGS]] += 1.0
    apart[[LOST_YOUNG, LOST_EGGS]] += 1.0, -1.0
    middle, lower, lowest = (
        float(beliefs.log_density(rates)[0]) for rates in (beliefs.mean, alike, apart)
    )
    assert middle > lower > lowest
    values, slopes, curve = beliefs.log_density(np.array([alike, apart]))
    assert values == pytest.approx([lower, lowest])
    assert slopes == pytest.approx((np.array([alike, apart]) - beliefs.mean) @ curve)


def test_cold_eggs_do_not_make_a_sign_of_a_loss_speak_for_eggs() -> None:
    """Half of lost clutches leave cold eggs; of the other losses of both kinds as many have signs,
    so a sign of a loss says nothing of whether it was eggs or young.
    """
    even = np.array([0.0, -1.0, -1.0, -4.0, -6.0, 0.0])
    found = found_chances(even)
    assert found[LOST_EGGS, SURE_LOSS] == pytest.approx(0.5)
    assert found[FLEDGED, SURE_LOSS] == 0
    for sign in (SIGNS_OF_LOSS, NO_SIGN):
        of_losses = found[LOST_EGGS, sign] / found[LOST_YOUNG, sign]
        assert of_losses == pytest.approx(0.5 / (1 - found[LOST_YOUNG, SURE_LOSS]))


def test_young_leave_at_the_ages_of_the_trail_not_at_the_middle_of_the_guide() -> None:
    """The invented young leave at 16 to 20 days, on average at 18; the guide's mean is 17.6."""
    season = raw_season(11, boxes=60, keeper=Keeper(interval_days=3))
    stays = raw_table(season).courses.stays
    assert np.nanmean(stays) == pytest.approx(18, abs=0.2)


def test_terms_that_differ_in_their_weight_alone_are_one() -> None:
    courses = raw_table(raw_season(4, boxes=10, keeper=Keeper(closed=True))).courses
    twice = replace(
        courses,
        **{
            name: np.repeat(getattr(courses, name), 2)
            for name in ("nest", "end", "egg_days", "young_days")
        },
        weight=np.repeat(courses.weight / 2, 2),
    )
    for name, values in vars(twice.merged()).items():
        assert values == pytest.approx(getattr(courses, name), nan_ok=True), name
