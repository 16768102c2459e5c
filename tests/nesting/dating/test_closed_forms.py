"""Dates worked out by hand."""

from dataclasses import replace

import pytest

from layers.nesting.dating.terms import COMPLETE, FAILURE, FIRST_EGG, FLEDGE, HATCH
from layers.trail.coding import day_of
from tests.nesting.dating.nests import SURE, dates_of, piper_guide, piper_histories, spread, weights
from tests.nesting.notebook import day, seen

NONE_YET = seen("04-20", nest="lined cup", eggs=0, young=0)


def test_one_count_during_laying_fixes_the_first_egg_and_with_the_clutch_the_last() -> None:
    histories = piper_histories(NONE_YET, seen("05-04", eggs=3, young=0))
    # The third egg on 4 May, one a day: the first on 2 May, the fifth on 6 May.
    found = weights(histories, SURE)
    assert spread(found, FIRST_EGG) == {day("05-02"): 1.0}
    assert spread(found, COMPLETE) == {day("05-06"): 1.0}
    # Gaps and slips in counting widen the answer, and leave the best day.
    dates = dates_of(histories)
    assert dates.first_egg is not None
    assert dates.complete is not None
    assert dates.first_egg.best == day_of(day("05-02"))
    assert dates.complete.best == day_of(day("05-06"))


def test_a_day_known_for_sure_is_an_interval_within_that_day() -> None:
    histories = piper_histories(NONE_YET, seen("05-04", eggs=3, young=0))
    first_egg = dates_of(histories, model=SURE).first_egg
    assert first_egg is not None
    begins = day("05-02")
    assert first_egg.within_80 == pytest.approx((begins + 0.1, begins + 0.9))
    assert first_egg.within_95 == pytest.approx((begins + 0.025, begins + 0.975))
    assert first_egg.days_80 == first_egg.days_95 == (day_of(begins), day_of(begins))


def test_an_egg_every_second_day_leaves_two_days_for_the_first() -> None:
    guide = piper_guide(laying_interval_days=(2, 2))
    histories = piper_histories(NONE_YET, seen("05-10", eggs=3, young=0), guide=guide)
    # The third egg came on 9 or 10 May, so the first on 5 or 6 May.
    found = weights(histories, SURE)
    assert spread(found) == pytest.approx({day("05-05"): 0.5, day("05-06"): 0.5})


def test_gaps_of_any_day_are_weighed() -> None:
    histories = piper_histories(
        seen("05-01", eggs=0, young=0, nest="lined cup"), seen("05-05", eggs=3, young=0)
    )
    gap = 0.1
    model = replace(SURE, laying_gap=gap)
    # Three eggs on 5 May. First on 3 May: no gap before the third egg. On 2 May: one gap
    # before the second or third egg, or none and one before the fourth.
    third = (1 - gap) ** 2
    second = 2 * gap * (1 - gap) + (1 - gap) ** 2 * gap
    found = spread(weights(histories, model))
    assert found[day("05-03")] == pytest.approx(third / (third + second))
    assert found[day("05-02")] == pytest.approx(second / (third + second))


def test_a_hatch_day_seen_gives_the_first_egg_by_counting_back() -> None:
    histories = piper_histories(
        seen("05-20", eggs=5, young=0, eggs_warm="yes"), seen("05-21", eggs=0, young=5)
    )
    found = weights(histories, SURE)
    assert spread(found, HATCH) == {day("05-21"): pytest.approx(1.0)}
    # 13 or 14 days of sitting back from 21 May, then four days of laying.
    assert spread(found, COMPLETE) == pytest.approx({day("05-07"): 0.5, day("05-08"): 0.5})
    assert spread(found, FIRST_EGG) == pytest.approx({day("05-03"): 0.5, day("05-04"): 0.5})


def nestling_chances(low: int, high: int, triangle: dict[int, float]) -> dict[int, float]:
    """Half even, half a triangle, and a twentieth a day outside the range."""
    even = 1 / (high - low + 1)
    inside = {days: 0.95 * (even + chance) / 2 for days, chance in triangle.items()}
    return {low - 1: 0.025, high + 1: 0.025} | inside


def test_leaving_is_the_hatch_day_and_the_nestling_days() -> None:
    histories = piper_histories(seen("05-20", eggs=5, young=0), seen("05-21", eggs=0, young=5))
    found = weights(histories, SURE)
    # A triangle from 16 to 20 with its top at 18: half-day stretches at both ends.
    chances = {16: 1 / 32, 17: 1 / 4, 18: 7 / 16, 19: 1 / 4, 20: 1 / 32}
    chances = nestling_chances(16, 20, chances)
    expected = {day("05-21") + days: chance for days, chance in chances.items()}
    assert spread(found, FLEDGE) == pytest.approx(expected)
    assert found.fledged == pytest.approx(1.0)


def test_an_interval_over_equal_days_is_cut_like_a_ruler() -> None:
    guide = piper_guide(clutch=(1, 1), clutch_range=(1, 1))
    histories = piper_histories(
        seen("05-01", eggs=0, young=0, nest="lined cup"),
        seen("05-05", eggs=1, young=0),
        guide=guide,
    )
    found = weights(histories, SURE)
    assert spread(found) == pytest.approx({day(f"05-0{n}"): 0.25 for n in (2, 3, 4, 5)})
    first_egg = dates_of(histories, model=SURE).first_egg
    assert first_egg is not None
    assert first_egg.best == day_of(day("05-03"))
    assert first_egg.within_80 == pytest.approx((day("05-02") + 0.4, day("05-06") - 0.4))
    assert first_egg.within_95 == pytest.approx((day("05-02") + 0.1, day("05-06") - 0.1))


def test_a_loss_between_two_visits_is_spread_by_the_daily_chance() -> None:
    loss = 0.1
    model = replace(SURE, daily_loss=loss)
    histories = piper_histories(
        NONE_YET,
        seen("05-04", eggs=3, young=0),
        seen("05-08", eggs=5, young=0, eggs_warm="yes"),
        seen("05-10", eggs=0, young=0, nest="lined cup"),
    )
    found = weights(histories, model)
    assert found.fledged == 0.0
    # Lost on 9 or on 10 May; to be lost on the 10th it must live through the 9th.
    assert spread(found, FAILURE) == pytest.approx(
        {day("05-09"): 1 / (2 - loss), day("05-10"): (1 - loss) / (2 - loss)}
    )


def test_the_chance_of_fledging_weighs_leaving_against_loss() -> None:
    loss = 0.02
    model = replace(SURE, daily_loss=loss)
    guide = piper_guide(nestling_days=(17, 19))
    histories = piper_histories(
        seen("05-20", eggs=5, young=0),
        seen("05-21", eggs=0, young=5),
        seen("06-06", eggs=0, young=5),
        seen("06-20", eggs=0, young=0, nest="lined cup"),
        guide=guide,
    )
    # Alive on 6 June at 16 days; leaving at 17, 18, 19 or 20; found empty later.
    stays = nestling_chances(17, 19, {17: 1 / 8, 18: 3 / 4, 19: 1 / 8})
    lives = 1 - loss
    left = model.finding[0][0] * sum(stays[17 + n] * lives**n for n in range(4))
    later = [sum(stays[17 + k] for k in range(n + 1, 4)) for n in range(3)]
    lost = model.finding[0][1] * loss * sum(later[n] * lives**n for n in range(3))
    assert weights(histories, model).fledged == pytest.approx(left / (left + lost))


def test_a_quiet_look_from_outside_makes_it_likelier_that_the_young_have_left() -> None:
    guide = piper_guide(nestling_days=(17, 19))
    histories = piper_histories(
        seen("05-20", eggs=5, young=0),
        seen("05-21", eggs=0, young=5),
        seen("06-06", eggs=0, young=5),
        # 18 days old, if they are still there.
        seen("06-08", adult="none", opened="no"),
        guide=guide,
    )
    gone, there = SURE.quiet_over, SURE.quiet_young
    stays = nestling_chances(17, 19, {17: 1 / 8, 18: 3 / 4, 19: 1 / 8})
    weighed = {n: stays[n] * (gone if n <= 18 else there) for n in range(17, 21)}
    total = sum(weighed.values())
    expected = {day("05-21") + days: weight / total for days, weight in weighed.items()}
    assert spread(weights(histories, SURE), FLEDGE) == pytest.approx(expected)


def test_eggs_that_lie_cold_were_given_up_before_or_are_only_left_alone() -> None:
    loss = 0.05
    model = replace(SURE, daily_loss=loss)
    histories = piper_histories(
        NONE_YET,
        seen("05-04", eggs=3, young=0),
        seen("05-10", eggs=5, young=0, eggs_warm="yes"),
        seen("05-12", eggs=5, young=0, eggs_warm="no"),
        seen("05-14", eggs=0, young=0, nest="lined cup"),
    )
    lives = 1 - loss
    # Lost on 11 or 12 May the eggs were seen lying there; on 13 or 14 May they were alive, cold.
    weighed = {
        "05-11": model.left_eggs,
        "05-12": model.left_eggs * lives,
        "05-13": model.cold_alive * lives**2,
        "05-14": model.cold_alive * lives**3,
    }
    total = sum(weighed.values())
    expected = {day(text): weight / total for text, weight in weighed.items()}
    assert spread(weights(histories, model), FAILURE) == pytest.approx(expected)
