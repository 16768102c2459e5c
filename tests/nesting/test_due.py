"""The due list: each reason, how to approach a box, and the order."""

import datetime as dt
from typing import Any

import pytest

from data_demo.biology import BIOLOGY
from data_demo.simulate import simulate_season
from layers.nesting.dating import date_attempts
from layers.nesting.due import (
    CAN_WAIT,
    DUE,
    LEAVE,
    NOT_DUE,
    OPEN,
    URGENCIES,
    URGENT,
    WATCH,
    Due,
    due,
    due_of_box,
)
from layers.nesting.forecast import BANDING, CHECK, forecast
from layers.nesting.histories import Histories, read_histories
from layers.nesting.timeline import Service
from layers.trail.settings import Settings
from tests.nesting.dating.nests import PIPER, piper_guide
from tests.nesting.notebook import coded, seen
from tests.nesting.scoring import read_season

pytestmark = pytest.mark.slow

SETTINGS = Settings("Alderbeck", "America/New_York")
LAYING = (seen("05-01", nest="lined cup", eggs=0, young=0), seen("05-04", eggs=3, young=0))
HATCHED = (
    seen("05-20", eggs=5, young=0, eggs_warm="yes"),
    seen("05-21", eggs=0, young=5),
    # A second look: that the first saw young is no slip of the pen.
    seen("05-22", eggs=0, young=5),
)


def histories(*visits: dict[str, Any]) -> Histories:
    named = [{"species": PIPER} | visit for visit in visits]
    return read_histories(coded(*named), piper_guide(), season_starts="01-01")


def on_day(*visits: dict[str, Any], on: str, **more: Any) -> Due:
    """What box A1 needs on a day of 2026."""
    day = dt.date.fromisoformat(f"2026-{on}")
    (found,) = due(histories(*visits), on=day, settings=SETTINGS, **more)
    return found


def kinds(found: Due) -> list[str]:
    return [reason.kind for reason in found.reasons]


def test_a_box_never_checked_this_season_is_due() -> None:
    found = on_day(seen("2025-06-01", nest="none", eggs=0, young=0), on="04-01")
    assert kinds(found) == ["never checked this season"]
    assert (found.due, found.urgency, found.approach) == (True, DUE, OPEN)


def test_a_box_within_its_interval_is_not_due() -> None:
    found = on_day(seen("05-01", nest="none", eggs=0, young=0), on="05-07")
    assert (found.due, found.urgency, found.reasons) == (False, NOT_DUE, ())


def test_a_passed_interval_is_due_and_presses_after_two_where_there_is_a_nest() -> None:
    once = on_day(seen("05-01", nest="none", eggs=0, young=0), on="05-15")
    assert (kinds(once), once.urgency) == (["interval passed"], DUE)
    assert "14 days ago" in once.reasons[0].text
    nest = on_day(*LAYING, on="05-18")
    assert ("interval passed", URGENT) in [(one.kind, one.urgency) for one in nest.reasons]


def test_a_clutch_is_to_be_counted_between_its_last_egg_and_hatching() -> None:
    found = on_day(*LAYING, on="05-08")
    assert kinds(found) == ["clutch can be counted"]
    # The last egg on 6 May, hatching 13 or 14 days later: the day before 19 May.
    assert found.until == dt.date(2026, 5, 18)
    again = seen("05-08", eggs=5, young=0), seen("05-10", eggs=5, young=0)
    assert on_day(*LAYING, *again, on="05-11").reasons == ()


def test_young_are_to_be_aged_once_hatching_is_past_and_before_the_box_stays_closed() -> None:
    eggs = seen("05-18", eggs=5, young=0, eggs_warm="yes")
    found = on_day(*LAYING, eggs, on="05-22")
    assert kinds(found) == ["young can be aged"]
    assert found.until is not None
    assert dt.date(2026, 5, 27) <= found.until <= dt.date(2026, 5, 29)
    assert found.approach == OPEN


def test_the_banding_window_presses_as_it_closes_and_asks_for_a_permit() -> None:
    found = on_day(*HATCHED, seen("05-25", young=5, young_days=4), on="05-29")
    assert kinds(found) == ["banding window"]
    assert (found.urgency, found.until) == (URGENT, dt.date(2026, 5, 30))
    assert "licensed banders only" in found.reasons[0].text


def test_in_closed_days_a_box_is_looked_at_from_a_distance() -> None:
    found = on_day(*HATCHED, on="06-03")
    assert found.approach == WATCH
    assert "Do not open 1 to 10 June" in found.approach_text
    assert all(not reason.needs_open for reason in found.reasons)


def test_after_fledging_the_fate_is_to_be_read_within_days() -> None:
    found = on_day(*HATCHED, seen("06-02", adult="feeding", opened="no"), on="06-11")
    assert "fate can be read" in kinds(found)
    assert found.until is not None
    assert dt.date(2026, 6, 15) <= found.until <= dt.date(2026, 6, 18)
    assert found.approach == OPEN


def test_a_nest_found_over_is_to_be_cleaned_out_until_someone_has() -> None:
    over = seen("06-12", eggs=0, young=0, nest="lined cup", signs="flattened")
    found = on_day(*HATCHED, over, on="06-13")
    assert (kinds(found), found.urgency) == (["clean-out"], CAN_WAIT)
    assert "local law" in found.reasons[0].text
    cleaned = seen("06-13", nest="none", eggs=0, young=0, actions="cleaned")
    assert on_day(*HATCHED, over, cleaned, on="06-14").reasons == ()


def test_a_box_robbed_by_a_climber_wants_a_guard_where_it_is_known_to_have_none() -> None:
    lost = seen("05-24", eggs=0, young=0, nest="none", signs="nest torn;hair")
    found = on_day(*HATCHED, lost, on="05-25", guards={"A1": ""})
    assert kinds(found) == ["guard missing"]
    assert on_day(*HATCHED, lost, on="05-25", guards={"A1": "cone"}).reasons == ()
    assert on_day(*HATCHED, lost, on="05-25", guards={"A1": None}).reasons == ()


def test_visits_that_contradict_each_other_are_to_be_resolved() -> None:
    odd = seen("05-01", nest="lined cup", eggs=0, young=0), seen("05-03", eggs=5, young=0)
    assert kinds(on_day(*odd, on="05-05")) == ["contradiction"]


def test_a_box_that_the_keeper_closed_is_not_visited() -> None:
    found = on_day(seen("05-01", nest="none", eggs=0, young=0, actions="closed"), on="06-01")
    assert (found.due, found.approach) == (False, LEAVE)


def test_visits_later_than_the_day_are_not_known_on_it() -> None:
    later = seen("05-12", eggs=0, young=0, nest="none", actions="nest removed")
    assert on_day(*LAYING, later, on="05-08") == on_day(*LAYING, on="05-08")


def test_boxes_that_do_not_stand_are_left_out() -> None:
    box = histories(*LAYING)
    gone = Service.from_days([None], ["2026-05-05"])
    day = dt.date(2026, 5, 8)
    assert due(box, on=day, settings=SETTINGS, service=gone) == []


def test_the_list_runs_by_urgency_then_last_day_then_box_id() -> None:
    rows = [visit | {"box": box} for box in ("B2", "A10", "A1") for visit in LAYING]
    rows += [visit | {"box": "C3"} for visit in HATCHED]
    named = [{"species": PIPER} | row for row in rows]
    made = read_histories(coded(*named), piper_guide(), season_starts="01-01")
    found = due(made, on=dt.date(2026, 5, 30), settings=SETTINGS)
    order = [(URGENCIES.index(one.urgency), one.until or dt.date.max, one.box) for one in found]
    assert order == sorted(order)
    assert found[0].box == "C3"
    assert [one.box for one in found[1:]] == ["A1", "A10", "B2"]


@pytest.mark.parametrize("interval_days", [7, 14])
def test_no_one_is_advised_to_open_a_box_with_young_that_may_jump(interval_days: int) -> None:
    """Against true stories: young of the age from which careful people leave a box shut."""
    boxes = [f"B{i:03d}" for i in range(600)]
    season = simulate_season(boxes, year=2025, seed=51, interval_days=interval_days)
    made = read_season(season, boxes)
    opened, shut = [], 0
    for month, day_of_month in ((5, 20), (6, 1), (6, 12), (6, 24), (7, 5)):
        day = dt.date(2025, month, day_of_month)
        number = (day - dt.date(1970, 1, 1)).days
        looks = {one.box: one.approach for one in due(made, on=day, settings=SETTINGS)}
        for nest in season.truth:
            if nest.hatch_day is None or (nest.end_day or 10**6) <= number:
                continue
            known = any(
                row["box"] == nest.box
                and nest.start_day <= (row["seen_on"] - dt.date(1970, 1, 1)).days <= number
                and (row["eggs"] or row["young"])
                and row["species"]
                for row in season.visits
            )
            if known and number - nest.hatch_day >= BIOLOGY[nest.species].closed_from_days:
                shut += 1
                if looks[nest.box] == OPEN:
                    opened.append((nest.box, day))
    assert shut > 150
    # Intervals of 95 % leave a few out.
    assert len(opened) <= 0.03 * shut, opened


def test_what_to_expect_inside_follows_the_best_days_of_the_nest() -> None:
    said = [on_day(*HATCHED, on=on).expected for on in ("05-21", "05-26", "06-20")]
    assert said[0] == "Reed piper: if all is well, young newly hatched."
    assert said[1] == "Reed piper: if all is well, young about five days old."
    assert said[2].startswith("A nest that must be over by now") or "empty" in said[2]
    laying = on_day(*LAYING, on="05-05").expected
    assert laying.startswith("Reed piper: three eggs or more, laying may go on; hatching expected")
    over = on_day(*HATCHED, seen("05-27", nest="none", eggs=0, young=0), on="05-28").expected
    assert over == "A nest found over on 27 May: failed."
    assert on_day(seen("05-01", nest="none"), on="05-02").expected == (
        "No nest when last seen, on 1 May."
    )


def test_eggs_long_past_hatching_are_not_expected_to_become_young() -> None:
    lying = seen("05-23", eggs=5, young=0)
    assert "probably not hatch" in on_day(*LAYING, lying, on="05-24").expected


def test_a_box_unseen_for_long_is_watched_from_a_distance_first() -> None:
    empty = seen("04-01", nest="none", eggs=0, young=0)
    # Reed piper is not named yet, so the wide figures hold: 10 days of sitting, 7 of young.
    soon, late = on_day(empty, on="04-10"), on_day(empty, on="06-01")
    assert (soon.approach, soon.approach_text) == (OPEN, "")
    assert late.approach == OPEN
    assert late.approach_text.startswith("Not opened since 1 April: watch it")


def test_eggs_that_cannot_be_dated_are_not_opened_once_young_could_be_large() -> None:
    odd = (
        seen("05-01", eggs=5, young=0),
        seen("05-02", eggs=1, young=0),
        seen("05-03", eggs=9, young=0),
        seen("05-04", eggs=2, young=0),
    )
    soon, late = on_day(*odd, on="05-05"), on_day(*odd, on="05-19")
    assert "contradiction" in kinds(soon)
    assert soon.approach == OPEN
    assert late.approach == WATCH


def test_one_box_alone_is_shown_as_it_is_in_the_list() -> None:
    rows = [{"species": PIPER} | visit | {"box": box} for box in ("A1", "B2") for visit in HATCHED]
    rows += [{"species": PIPER, "box": "B2"} | seen("06-20", nest="none", eggs=0, young=0)]
    made = read_histories(coded(*rows), piper_guide(), season_starts="01-01")
    for day in (dt.date(2026, 5, 25), dt.date(2026, 6, 25)):
        for one in due(made, on=day, settings=SETTINGS):
            assert due_of_box(made, one.box, on=day, settings=SETTINGS) == one


def test_visits_that_saw_only_the_outside_do_not_stand_for_a_look_inside() -> None:
    outside = [seen(f"05-{day:02d}", adult="near", opened="no") for day in range(2, 31, 7)]
    empty = seen("04-01", nest="none", eggs=0, young=0)
    looked = on_day(empty, *outside, on="06-01")
    assert looked.approach_text.startswith("Not opened since 1 April: watch it")
    never = on_day(*outside, on="06-01")
    assert never.approach_text.startswith("Not opened this season: watch it")


def test_a_box_of_another_season_is_judged_by_this_seasons_visits_alone() -> None:
    southern = Settings("Alderbeck", "Australia/Hobart", season_starts="07-01")
    rows = [
        {"species": PIPER} | visit
        for visit in (
            seen("2025-12-27", nest="lined cup", eggs=5, young=0, eggs_warm="yes"),
            seen("2026-01-03", nest="lined cup", eggs=5, young=0, eggs_warm="yes"),
        )
    ]
    made = read_histories(coded(*rows), piper_guide(), season_starts="07-01")
    (over_new_year,) = due(made, on=dt.date(2026, 1, 18), settings=southern)
    assert over_new_year.approach == WATCH
    (next_season,) = due(made, on=dt.date(2026, 7, 2), settings=southern)
    assert kinds(next_season) == ["never checked this season"]


@pytest.mark.parametrize("age", [{"young_days": 13}, {"young_days": 500}])
def test_large_young_at_a_visit_that_goes_with_no_other_keep_the_box_closed(
    age: dict[str, int],
) -> None:
    # Three eggs on 4 May, and on 9 May young that must have hatched in April: one is wrong.
    laid = seen("05-01", nest="lined cup", eggs=0, young=0), seen("05-04", eggs=3, young=0)
    found = histories(*laid, seen("05-09", young=5, **age))
    dates = date_attempts(found)
    assert dates.of(0).doubtful is not None
    closed = dates.of(0).closed
    assert closed is not None
    assert closed[0] <= dt.date(2026, 5, 10)
    day = dt.date(2026, 5, 10)
    while day <= dt.date(2026, 5, 14):
        (told,) = due(found, on=day, settings=SETTINGS, dates=dates)
        assert told.approach == WATCH
        assert all(not reason.needs_open for reason in told.reasons)
        to_come = {one.kind: one for one in forecast(found, dates, 0, on=day)}
        assert BANDING not in to_come
        assert to_come[CHECK].first > closed[1]
        day += dt.timedelta(days=1)


def test_small_young_seen_at_a_visit_that_the_dates_leave_out_may_still_be_looked_at() -> None:
    laid = seen("05-01", nest="lined cup", eggs=0, young=0), seen("05-04", eggs=3, young=0)
    found = histories(*laid, seen("05-09", young=5, young_days=2))
    (told,) = due(found, on=dt.date(2026, 5, 10), settings=SETTINGS)
    assert (told.approach, kinds(told)) == (OPEN, ["contradiction"])
