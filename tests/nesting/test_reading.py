"""The hard cases of a nest box, one promise each."""

from typing import Any

import pytest

from layers.nesting import attempt_columns as c
from tests.nesting.notebook import BLUEBIRD, SWALLOW, WREN, day, read, row, seen, stages, told

LAID = [
    seen("04-08", nest="loose material", eggs=0, species=BLUEBIRD),
    seen("04-15", nest="lined cup", eggs=0, species=BLUEBIRD),
    seen("04-22", nest="lined cup", eggs=5, species=BLUEBIRD),
    seen("04-29", eggs=5, eggs_warm="yes", species=BLUEBIRD),
]
HATCHED = [
    *LAID,
    seen("05-06", eggs=0, young=5, young_days=1, species=BLUEBIRD),
    seen("05-13", eggs=0, young=5, young_days=8, species=BLUEBIRD),
    seen("05-20", young=5, young_days=15, species=BLUEBIRD),
]
FLEDGED = [*HATCHED, seen("05-28", eggs=0, young=0, nest="shaped cup", signs="flattened;droppings")]


def only(*visits: dict[str, Any], on: str = "2026-12-31") -> dict[str, Any]:
    records = told(*visits, on=on)
    assert len(records) == 1, [record["reasons"] for record in records]
    return records[0]


def test_a_brood_gone_at_leaving_age_with_signs_fledged_with_its_last_count() -> None:
    nest = only(*FLEDGED)
    assert (nest["fate"], nest["cause"], nest["young_fledged"]) == ("fledged", None, 5)
    assert (nest["first_seen"], nest["last_seen"]) == ("2026-04-08", "2026-05-20")
    assert (nest["eggs_max"], nest["young_max"], nest["species"]) == (5, 5, BLUEBIRD)


def test_stages_follow_the_visits() -> None:
    assert stages(read(*FLEDGED)) == [
        c.STAGE_BUILDING,
        c.STAGE_BUILDING,
        c.STAGE_INCUBATING,
        c.STAGE_INCUBATING,
        c.STAGE_NESTLINGS,
        c.STAGE_NESTLINGS,
        c.STAGE_NESTLINGS,
        c.STAGE_OVER,
    ]


def test_the_same_empty_nest_without_signs_is_left_to_its_chance() -> None:
    nest = only(*HATCHED, seen("05-28", eggs=0, young=0))
    assert nest["fate"] == "probably fledged"
    assert any("no sign shows which" in reason for reason in nest["reasons"])
    assert any("would have decided it" in reason for reason in nest["reasons"])


def test_young_seen_at_leaving_age_fledged_even_without_signs() -> None:
    nest = only(
        *HATCHED[:-1],
        seen("05-23", young=5, young_days=18, species=BLUEBIRD),
        seen("05-30", eggs=0, young=0),
    )
    assert nest["fate"] == "fledged"


def test_a_brood_gone_before_it_could_leave_failed() -> None:
    nest = only(*HATCHED[:-2], seen("05-13", eggs=0, young=0))
    assert (nest["fate"], nest["young_fledged"]) == ("failed", 0)


def test_a_torn_nest_failed_by_a_predator() -> None:
    nest = only(*HATCHED[:-1], seen("05-20", eggs=0, young=0, signs="nest torn;hair"))
    assert (nest["fate"], nest["cause"]) == ("failed", "predator")


def test_all_young_dead_and_wet_failed_by_the_weather() -> None:
    nest = only(*HATCHED[:-1], seen("05-20", young=0, dead_young=5, signs="wet"))
    assert (nest["fate"], nest["cause"]) == ("failed", "cold or wet")


def test_dead_young_found_in_the_nest_after_leaving_are_taken_off_the_count() -> None:
    nest = only(*HATCHED, seen("05-28", eggs=0, young=0, dead_young=1, signs="flattened"))
    assert (nest["fate"], nest["young_fledged"]) == ("fledged", 4)


def test_young_last_counted_when_small_leave_the_number_open() -> None:
    nest = only(
        *LAID,
        seen("05-06", eggs=0, young=5, young_days=1),
        seen("05-28", eggs=0, young=0, signs="flattened"),
    )
    assert (nest["fate"], nest["young_fledged"]) == ("fledged", None)


def test_a_second_brood_in_the_same_nest_is_a_second_attempt() -> None:
    first, second = told(
        *FLEDGED,
        seen("06-04", eggs=0, nest="lined cup", species=BLUEBIRD),
        seen("06-11", eggs=4, eggs_warm="yes", species=BLUEBIRD),
        seen("06-25", eggs=0, young=4, young_days=2, species=BLUEBIRD),
    )
    assert (first["attempt"], second["attempt"]) == (1, 2)
    assert (first["fate"], second["eggs_max"]) == ("fledged", 4)


def test_the_old_nest_left_in_the_box_is_no_new_attempt() -> None:
    nest = only(
        *FLEDGED, seen("06-04", nest="shaped cup", eggs=0), seen("06-11", nest="shaped cup")
    )
    assert nest["fate"] == "fledged"


def test_cleaning_out_the_old_nest_is_no_new_attempt() -> None:
    without_word = [*HATCHED, seen("05-28", eggs=0, young=0, signs="flattened")]
    nest = only(*without_word, seen("06-04", nest="lined cup", actions="cleaned"))
    assert nest["fate"] == "fledged"


def test_material_after_cleaning_is_a_new_attempt() -> None:
    records = told(
        *FLEDGED,
        seen("06-04", nest="shaped cup", actions="cleaned"),
        seen("06-11", nest="loose material", eggs=0, species=BLUEBIRD),
    )
    assert len(records) == 2


def test_unhatched_eggs_left_behind_are_no_new_clutch() -> None:
    nest = only(
        *LAID,
        seen("05-06", eggs=2, young=3, young_days=1, species=BLUEBIRD),
        seen("05-20", eggs=2, young=3, young_days=15, species=BLUEBIRD),
        seen("05-28", eggs=2, young=0, signs="flattened"),
        seen("06-04", eggs=2, eggs_warm="no"),
    )
    assert (nest["fate"], nest["young_fledged"]) == ("fledged", 3)
    assert any("unhatched beside the young" in reason for reason in nest["reasons"])


def test_another_species_nest_in_its_place_is_a_takeover() -> None:
    first, second = told(
        *LAID,
        seen("05-06", nest="shaped cup", eggs=0, young=0, species=WREN, signs="broken eggs"),
        seen("05-13", nest="lined cup", eggs=3, species=WREN),
    )
    assert (first["fate"], first["cause"], first["species"]) == ("failed", "taken over", BLUEBIRD)
    assert second["species"] == WREN


def test_another_species_written_once_over_the_same_eggs_is_a_slip() -> None:
    nest = only(
        *LAID[:-1],
        seen("04-29", eggs=5, eggs_warm="yes", species=SWALLOW),
        seen("05-06", eggs=0, young=5, young_days=1, species=BLUEBIRD),
    )
    assert nest["species"] == BLUEBIRD
    assert any("slip of the pen" in reason for reason in nest["reasons"])


def test_a_first_name_given_once_yields_to_the_one_that_follows() -> None:
    nest = only(
        seen("04-22", nest="lined cup", eggs=2, species=SWALLOW),
        seen("04-24", eggs=4, species=BLUEBIRD),
        seen("04-29", eggs=5, species=BLUEBIRD),
    )
    assert nest["species"] == BLUEBIRD


def test_eggs_again_after_longer_than_a_clutch_lasts_are_another_clutch() -> None:
    first, second = told(*LAID, seen("06-20", eggs=4, eggs_warm="yes", species=BLUEBIRD))
    assert (first["fate"], second["eggs_max"]) == ("probably fledged", 4)
    assert any("another begun" in reason for reason in first["reasons"])


def test_a_clutch_cold_visit_after_visit_was_abandoned() -> None:
    nest = only(
        *LAID,
        seen("05-06", eggs=5, eggs_warm="no", adult="none"),
        seen("05-13", eggs=5, eggs_warm="no", adult="none"),
        seen("05-20", eggs=5, eggs_warm="no"),
        seen("06-10", eggs=5, eggs_warm="no"),
    )
    assert (nest["fate"], nest["cause"], nest["eggs_max"]) == ("failed", "abandoned", 5)


def test_a_clutch_thought_abandoned_and_found_warm_again_goes_on() -> None:
    nest = only(
        *LAID[:-1],
        seen("04-29", eggs=5, eggs_warm="no"),
        seen("05-06", eggs=5, eggs_warm="no"),
        seen("05-08", eggs=5, eggs_warm="yes", adult="flushed"),
        seen("05-10", eggs=0, young=5, young_days=1),
        on="2026-05-11",
    )
    assert nest["fate"] == "ongoing"


def test_a_warm_clutch_far_beyond_its_time_did_not_hatch() -> None:
    nest = only(
        *LAID, *(seen(on, eggs=5, eggs_warm="yes") for on in ("05-06", "05-13", "05-20", "05-27"))
    )
    assert (nest["fate"], nest["cause"]) == ("failed", "did not hatch")


def test_a_falling_egg_count_is_a_partial_loss_in_the_same_attempt() -> None:
    nest = only(*LAID, seen("05-02", eggs=3, eggs_warm="yes", species=BLUEBIRD), on="2026-05-03")
    assert (nest["fate"], nest["eggs_max"]) == ("ongoing", 5)
    assert any("some eggs were lost" in reason for reason in nest["reasons"])


def test_a_count_that_falls_and_rises_again_is_a_new_clutch_in_the_same_cup() -> None:
    first, second = told(
        *LAID,
        seen("05-08", eggs=2, species=BLUEBIRD),
        seen("05-15", eggs=5, eggs_warm="yes", species=BLUEBIRD),
    )
    assert first["fate"] == "failed"
    assert second["first_seen"] == "2026-05-08"


def test_more_eggs_than_one_female_lays_stay_one_attempt_with_a_note() -> None:
    nest = only(*LAID[:-1], seen("04-24", eggs=9, species=BLUEBIRD))
    assert nest["eggs_max"] == 9
    assert any("perhaps two laid here" in reason for reason in nest["reasons"])


def test_material_alone_is_an_attempt_that_did_not_fail() -> None:
    nest = only(
        seen("04-08", nest="loose material", eggs=0, species=BLUEBIRD),
        seen("04-15", nest="shaped cup", eggs=0),
        seen("05-30", nest="none"),
    )
    assert (nest["fate"], nest["cause"], nest["eggs_max"]) == ("unknown", None, None)
    assert any("does not count as a nest that failed" in reason for reason in nest["reasons"])


def test_a_stick_nest_then_another_species_are_two_attempts() -> None:
    first, second = told(
        seen("05-01", nest="shaped cup", eggs=0, species=WREN),
        seen("05-08", nest="shaped cup", eggs=0, species=WREN),
        seen("05-22", nest="lined cup", eggs=4, species=BLUEBIRD),
        seen("05-29", eggs=4, species=BLUEBIRD),
    )
    assert (first["species"], first["eggs_max"]) == (WREN, None)
    assert (second["species"], second["eggs_max"]) == (BLUEBIRD, 4)


def test_a_visit_with_only_an_adult_sitting_keeps_the_attempt_alive() -> None:
    nest = only(*LAID, seen("05-04", adult="sitting", opened="no"), on="2026-05-05")
    assert (nest["fate"], nest["last_seen"]) == ("ongoing", "2026-05-04")


def test_an_adult_sitting_alone_begins_an_attempt_without_a_count() -> None:
    nest = only(seen("05-04", adult="sitting", species=BLUEBIRD), on="2026-05-05")
    assert (nest["stage"], nest["eggs_max"]) == ("incubating", None)


def test_an_adult_that_only_roosted_is_no_attempt() -> None:
    assert told(seen("03-04", adult="sitting"), seen("03-11", nest="none", eggs=0, young=0)) == []


def test_missed_weeks_with_signs_of_leaving_still_give_the_fate() -> None:
    nest = only(*LAID, seen("06-10", eggs=0, young=0, signs="flattened;droppings"))
    assert nest["fate"] == "fledged"


def test_missed_weeks_without_signs_do_not() -> None:
    assert only(*LAID, seen("06-10", eggs=0, young=0))["fate"] == "unknown"


@pytest.mark.parametrize("sign", ["mouse", "wasps", "squirrel"])
def test_another_animal_is_no_attempt(sign: str) -> None:
    assert told(seen("04-08", nest="loose material", eggs=0, young=0, signs=sign)) == []


def test_a_mouse_in_a_nest_without_eggs_ends_it() -> None:
    nest = only(LAID[0], seen("04-15", nest="shaped cup", eggs=0, young=0, signs="mouse"))
    assert nest["stage"] == "over"


def test_two_visits_on_one_day_are_one_look_at_the_same_nest() -> None:
    nest = only(*LAID, seen("04-29", eggs=5), seen("04-29", adult="sitting"))
    assert nest["eggs_max"] == 5


def test_a_corrected_visit_counts_as_corrected() -> None:
    wrong = seen("05-06", eggs=0, young=0, visit_id="wrong")
    right = seen("05-06", eggs=0, young=5, young_days=1, replaces="wrong")
    nest = only(*LAID, wrong, right, on="2026-05-07")
    assert (nest["fate"], nest["young_max"]) == ("ongoing", 5)


def test_a_keeper_taking_out_live_eggs_is_a_nest_removed() -> None:
    nest = only(
        seen("04-22", eggs=4, species="house sparrow", actions="nest removed", nest="shaped cup")
    )
    assert (nest["fate"], nest["cause"]) == ("failed", "nest removed")


def test_an_attempt_no_one_looked_at_again_is_unknown_after_its_time() -> None:
    assert only(*LAID, on="2026-05-10")["fate"] == "ongoing"
    assert only(*LAID, on="2026-08-01")["fate"] == "unknown"


def test_a_blank_egg_cell_is_not_zero() -> None:
    nest = only(*LAID, seen("05-02", opened="no", adult="near"), on="2026-05-03")
    assert (nest["fate"], nest["eggs_max"]) == ("ongoing", 5)


def test_no_eggs_with_the_young_left_blank_near_hatching_cannot_be_decided() -> None:
    assert only(*LAID, seen("05-08", eggs=0))["fate"] == "unknown"


def test_a_season_that_runs_over_the_new_year_keeps_one_attempt_whole() -> None:
    histories = read(
        seen("2026-12-20", eggs=4, nest="lined cup", species=BLUEBIRD),
        seen("2026-12-28", eggs=4, eggs_warm="yes", species=BLUEBIRD),
        seen("2027-01-04", young=4, young_days=2, species=BLUEBIRD),
        season_starts="07-01",
    )
    assert len(histories) == 1
    assert histories.rows[0, c.SEASON] == 2026


def test_last_years_nest_does_not_run_into_this_year() -> None:
    records = told(
        seen("2025-06-01", eggs=4, species=BLUEBIRD, nest="lined cup"),
        seen("2026-05-01", eggs=3, species=BLUEBIRD, nest="lined cup"),
    )
    assert [record["season"] for record in records] == [2025, 2026]


def test_first_egg_is_counted_back_from_a_clutch_seen_growing() -> None:
    # One egg a day: two on 22 April means the first on 21 April, whatever comes later.
    histories = read(
        seen("04-20", nest="lined cup", eggs=0, species=BLUEBIRD),
        seen("04-22", eggs=2, species=BLUEBIRD),
        seen("04-25", eggs=5, species=BLUEBIRD),
        seen("04-29", eggs=5, species=BLUEBIRD),
    )
    assert row(histories)["EGG"] == day("04-21")
    assert row(histories)["COMPLETE"] == day("04-25")


def test_young_that_leave_at_once_succeed_by_their_shells() -> None:
    nest = only(
        seen("04-01", eggs=10, species="wood duck", nest="lined cup"),
        seen("04-15", eggs=10, eggs_warm="yes", species="wood duck"),
        seen("05-10", eggs=0, young=0, signs="hatched shells"),
    )
    assert nest["fate"] == "fledged"


def test_a_nest_found_with_young_is_dated_by_their_age_not_by_the_day_it_was_found() -> None:
    found = seen("05-20", species=BLUEBIRD, young=4, young_days=5, nest="lined cup")
    histories = read(found)
    assert row(histories)["HATCH"] == day("05-15")
    assert row(histories)["EGG"] < day("05-01")
    assert "ages judged on different visits" not in " ".join(told(found)[0]["reasons"])


def test_a_brood_found_large_and_gone_with_signs_a_week_later_fledged() -> None:
    found = seen("05-20", species=BLUEBIRD, young=4, young_days=12, nest="lined cup")
    gone = seen("05-28", young=0, eggs=0, nest="lined cup", signs="flattened;droppings")
    (attempt,) = told(found, gone)
    assert (attempt["fate"], attempt["young_fledged"]) == ("fledged", 4)
    # Nobody judged their age: they may have been of any when they were found.
    (attempt,) = told(found | {"young_days": None}, gone | {"signs": None})
    assert attempt["fate"] == "unknown"


@pytest.mark.parametrize("beside", [{}, {"eggs": 1}])
def test_eggs_first_counted_beside_young_say_nothing_of_when_they_were_laid(
    beside: dict[str, int],
) -> None:
    first = seen("05-20", species=BLUEBIRD, young=4, young_days=5, **beside)
    later = seen("05-27", species=BLUEBIRD, young=4, young_days=12, eggs=1)
    found = row(read(first, later))
    assert found["HATCH"] == day("05-15")
    assert found["START"] == found["EGG"] < found["COMPLETE"] < found["HATCH"] < found["END"]
    assert found["EGGS_MAX"] == 5


def test_no_egg_and_an_egg_on_one_day_were_seen_in_that_order() -> None:
    histories = read(
        seen("05-01", species=BLUEBIRD, nest="lined cup", eggs=0, seen_at="2026-05-01T12:00:00Z"),
        seen("05-01", species=BLUEBIRD, nest="lined cup", eggs=1, seen_at="2026-05-01T20:00:00Z"),
    )
    assert row(histories)["EGG"] == day("05-01")
