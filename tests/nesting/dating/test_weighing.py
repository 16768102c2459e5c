"""The compiled weights against courses walked one by one, and chances against their formulas."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy import stats

from layers.nesting.dating import STANDARD, Posterior, date_attempts, model, posterior
from layers.nesting.dating.evidence import evidence_of_one
from layers.nesting.dating.laying import any_count, brood_chance, count_chance
from layers.nesting.dating.looks import age_chance, any_age, judged_chance
from layers.nesting.dating.terms import COMPLETE, FAILURE, FIRST_EGG, FLEDGE, HATCH
from layers.nesting.guide import Guide
from tests.nesting.dating.courses import Weights, walk
from tests.nesting.dating.nests import piper_guide, piper_histories
from tests.nesting.notebook import seen
from tests.sampling import one_in

# Nests whose clutch may yet be dead are left to other tests.
MODEL = replace(STANDARD, never_hatches=0.0)
EVENTS = {
    "first egg": FIRST_EGG,
    "complete": COMPLETE,
    "hatch": HATCH,
    "fledge": FLEDGE,
    "loss": FAILURE,
}
NESTS = {
    "laying seen, then young of an age, then empty": (
        seen("05-01", eggs=0, young=0, nest="shaped cup"),
        seen("05-06", eggs=2, young=0, eggs_warm="no"),
        seen("05-13", eggs=4, young=0, eggs_warm="yes"),
        seen("05-27", eggs=0, young=4, young_days=5),
        seen("06-12", eggs=0, young=0, nest="lined cup", signs="flattened"),
    ),
    "found with young, and one egg unhatched": (
        seen("05-10", eggs=0, young=0, nest="shaped cup"),
        seen("06-02", eggs=1, young=3, young_days=0),
    ),
    "eggs, then nothing": (
        seen("05-01", eggs=0, young=0, nest="shaped cup"),
        seen("05-08", eggs=4, young=0, eggs_warm="yes"),
        seen("05-30", eggs=0, young=0, nest="lined cup"),
    ),
    "eggs that nobody felt, then a raided nest": (
        seen("05-01", eggs=0, young=0, nest="shaped cup"),
        seen("05-04", eggs=2, young=0, eggs_warm="no"),
        seen("05-11", eggs=4, young=0),
        seen("05-30", eggs=0, young=0, nest="shaped cup", signs="nest torn"),
    ),
}
GUIDES = {
    "an egg a day": piper_guide(clutch=(4, 5), clutch_range=(3, 6)),
    "an egg every two or three days": piper_guide(
        clutch=(3, 4), clutch_range=(3, 5), laying_interval_days=(2, 3)
    ),
}


@pytest.mark.parametrize("guide", GUIDES.values(), ids=GUIDES)
@pytest.mark.parametrize("visits", NESTS.values(), ids=NESTS)
def test_weights_are_those_of_every_course_walked_one_by_one(
    visits: tuple[dict[str, Any], ...], guide: Guide
) -> None:
    histories = piper_histories(*visits, guide=guide)
    assert len(histories) == 1
    dates = date_attempts(histories, model=MODEL)
    found = posterior(histories, dates, 0)
    assert found is not None
    check(found, walk(evidence_of_one(histories, 0), dates.tables, MODEL))


# Eggs at one look and eggs at the next, with a whole nest's end in between.
TWO_CLUTCHES = (
    seen("05-01", eggs=0, young=0, nest="shaped cup"),
    seen("05-09", eggs=4, young=0, eggs_warm="yes"),
    seen("06-22", eggs=3, young=0, eggs_warm="no"),
    seen("07-12", eggs=0, young=4, young_days=4),
)


@pytest.mark.parametrize("guide", one_in(2, [*reversed(GUIDES)]))
def test_a_clutch_that_follows_weighs_the_end_of_the_one_before(guide: str) -> None:
    histories = piper_histories(*TWO_CLUTCHES, guide=GUIDES[guide])
    assert len(histories) == 2
    dates = date_attempts(histories, model=MODEL)
    second = walk(evidence_of_one(histories, 1), dates.tables, MODEL)["first egg"]
    following = {day: weight / sum(second.values()) for day, weight in second.items()}
    found = posterior(histories, dates, 0)
    assert found is not None
    own = evidence_of_one(histories, 0)
    assert len(own.frames) == 2
    walked = walk(own, dates.tables, MODEL, following)
    check(found, walked)
    assert dates.fledged[0] == pytest.approx(found.fledged)
    # Without it a loss as eggs, right after the first look, would be likelier than now.
    alone = walk(own, dates.tables, MODEL)
    assert chance_of_fledging(walked) > chance_of_fledging(alone) + 0.1


def chance_of_fledging(walked: Weights) -> float:
    return sum(walked["fledge"].values()) / sum(walked["first egg"].values())


def check(found: Posterior, walked: Weights) -> None:
    """Every chance of a posterior against the weights of courses walked one by one."""
    total = sum(walked["first egg"].values())
    for name, event in EVENTS.items():
        expected = np.zeros(found.chances.shape[1])
        for day, weight in walked[name].items():
            expected[day - found.first_day] = weight / total
        # Courses of less than a thousand-millionth of the likeliest are passed over.
        assert found.chances[event] == pytest.approx(expected, abs=1e-8), name


def test_judged_ages_follow_a_normal_error_cut_at_nothing() -> None:
    chances = STANDARD.chances()
    error = stats.norm(scale=STANDARD.age_error_days)
    assert judged_chance(8, 7, chances) == pytest.approx(error.cdf(1.5) - error.cdf(0.5))
    assert judged_chance(0, 2, chances) == pytest.approx(error.cdf(-1.5))
    assert judged_chance(0, 6, chances) == 0.0
    assert sum(judged_chance(n, 9, chances) for n in range(30)) == pytest.approx(1.0, abs=1e-4)


def test_an_age_is_right_or_ten_off_or_any() -> None:
    chances, slip = STANDARD.chances(), STANDARD.slip
    assert sum(any_age(n) for n in range(31)) == pytest.approx(1.0)
    assert age_chance(25, 9, chances) == pytest.approx(slip / 2 / 31, rel=1e-3)
    ten_lost = slip * (0.5 / 31 + 0.25 * judged_chance(13, 13, chances))
    assert age_chance(3, 13, chances) == pytest.approx(ten_lost)


def test_counts_that_are_slips_may_be_any_number() -> None:
    chances, slip = STANDARD.chances(), STANDARD.slip
    assert sum(any_count(n) for n in range(70)) == pytest.approx(1.0, abs=0.01)
    assert count_chance(40, 5, chances) == slip * any_count(40)
    assert count_chance(0, 5, chances) == slip * any_count(0)


def test_broods_follow_a_binomial_of_the_eggs() -> None:
    chances, slip = STANDARD.chances(), STANDARD.slip
    hatches = stats.binom(6, 1 - STANDARD.egg_fails)
    for young in range(1, 7):
        right = (1 - slip) * hatches.pmf(young)
        assert brood_chance(young, 6, chances) == pytest.approx(right + slip * any_count(young))
    assert brood_chance(8, 6, chances) == slip * any_count(8)


def test_one_or_two_eggs_are_never_counted_one_too_many() -> None:
    chances, slip = STANDARD.chances(), STANDARD.slip
    anything = slip * any_count(3)
    assert count_chance(2, 1, chances) == anything
    assert count_chance(3, 2, chances) == pytest.approx((1 - slip) * STANDARD.egg_over + anything)
    short = (1 - slip) * STANDARD.egg_short / 3
    assert count_chance(3, 5, chances) == pytest.approx(short + anything)


def test_every_chance_is_where_the_compiled_code_looks_for_it() -> None:
    for place, name in enumerate(model.CHANCES):
        assert getattr(model, name.upper()) == place
        assert STANDARD.chances()[place] == getattr(STANDARD, name)
