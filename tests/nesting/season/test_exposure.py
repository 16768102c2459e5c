"""Which days of which nests count, by hand-written visits."""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np
import pytest

from data_demo.simulate import deal_cases, simulate_season
from layers.errors import BadValue
from layers.nesting import attempt_columns as c
from layers.nesting.season.samples import LeftOut, for_success, for_survival
from layers.nesting.season.tables import SeasonTable
from tests.nesting.notebook import BLUEBIRD, SWALLOW, day, read, seen
from tests.nesting.scoring import read_season
from tests.nesting.season.made import dated_table

EMPTY = {"eggs": 0, "young": 0}
LAYING = (
    seen("04-28", nest="shaped cup", eggs=0, species=BLUEBIRD),
    seen("05-03", eggs=3, species=BLUEBIRD),
    seen("05-10", eggs=5, adult="sitting", species=BLUEBIRD),
    seen("05-17", eggs=5, adult="sitting", species=BLUEBIRD),
)
HATCHED = (*LAYING, seen("05-24", young=5, young_days=5, species=BLUEBIRD))
WATCHED = [("05-03", 7, 0, False), ("05-10", 7, 0, False)]
TO_HATCHING = [*WATCHED, ("05-17", 2, 5, False)]


def table(*visits: dict[str, Any], on: str = "2026-12-31") -> SeasonTable:
    return dated_table(read(*visits), on=dt.date.fromisoformat(on))


def watched(*visits: dict[str, Any], on: str = "2026-12-31") -> list[tuple[str, int, int, bool]]:
    """(first day, egg days, young days, lost) of every interval."""
    i = table(*visits, on=on).intervals
    days = [(dt.date(1970, 1, 1) + dt.timedelta(int(d))).isoformat()[5:] for d in i.start_day]
    return list(zip(days, i.egg_days.tolist(), i.young_days.tolist(), i.lost.tolist(), strict=True))


def test_watching_begins_with_the_first_eggs_counted_and_is_cut_at_hatching() -> None:
    # Five days old on 24 May: hatched on the 19th.
    assert watched(*HATCHED, on="2026-05-24") == TO_HATCHING


def test_a_nest_that_fledged_is_watched_to_its_expected_day() -> None:
    visits = (
        *HATCHED,
        seen("05-31", young=5, species=BLUEBIRD),
        seen("06-07", **EMPTY, signs="flattened;droppings"),
    )
    # Hatched 19 May, stays 15 to 20 days by the guide: 17 days on is 5 June.
    assert watched(*visits) == [*TO_HATCHING, ("05-24", 0, 7, False), ("05-31", 0, 5, False)]


def test_a_loss_is_between_the_last_look_alive_and_the_first_that_found_it_over() -> None:
    visits = (*HATCHED, seen("05-31", **EMPTY, signs="nest torn"))
    assert watched(*visits) == [*TO_HATCHING, ("05-24", 0, 7, True)]


def test_the_window_of_a_loss_is_cut_at_the_expected_day_of_fledging() -> None:
    # Green 2004: the nest could be seen to fail only up to 5 June.
    visits = (*HATCHED, seen("06-14", **EMPTY, signs="nest torn"))
    assert watched(*visits)[-1] == ("05-24", 0, 12, True)


def test_a_nest_of_uncertain_fate_ends_on_the_last_day_it_was_seen_alive() -> None:
    # Manolis, Andersen & Cuthbert 2000.
    assert watched(*HATCHED, seen("06-14", **EMPTY)) == TO_HATCHING


def test_a_nest_still_going_ends_on_the_last_day_it_was_seen_alive() -> None:
    assert watched(*LAYING, on="2026-05-18") == WATCHED


def test_a_nest_taken_out_by_the_keeper_ends_there_alive() -> None:
    taken = seen("05-20", eggs=5, adult="sitting", actions="nest removed", species=BLUEBIRD)
    assert watched(*LAYING, taken) == [*WATCHED, ("05-17", 3, 0, False)]


def test_cold_eggs_were_lost_before_they_were_first_found_cold() -> None:
    cold = [seen(d, eggs=5, eggs_warm="no", species=BLUEBIRD) for d in ("05-24", "06-02")]
    assert watched(*LAYING, *cold) == [*WATCHED, ("05-17", 7, 0, True)]


def test_a_clutch_that_never_hatched_is_lost_when_it_should_have_hatched() -> None:
    late = [
        seen(d, eggs=5, eggs_warm="yes", species=BLUEBIRD)
        for d in ("05-24", "05-31", "06-07", "06-14")
    ]
    # Complete on 4 May, and 14 days at most: due on the 18th.
    assert watched(*LAYING, *late) == [*WATCHED, ("05-17", 7, 0, True)]


def test_a_loss_over_the_time_of_hatching_has_days_with_eggs_and_with_young() -> None:
    gone = seen("05-31", **EMPTY, signs="nest torn")
    # Complete on 5 May by its dating, and 13 days of incubation: due to hatch on the 18th.
    assert watched(*LAYING[:3], gone) == [WATCHED[0], ("05-10", 8, 13, True)]


def test_a_loss_on_the_day_it_was_seen_alive_takes_one_day() -> None:
    same_day = seen("05-24", **EMPTY, signs="nest torn", visit_id="later")
    assert watched(*HATCHED, same_day)[-1] == ("05-24", 0, 1, True)


def test_two_looks_on_one_day_make_no_interval() -> None:
    again = seen("05-10", eggs=5, species=BLUEBIRD, visit_id="again")
    assert watched(*LAYING, again, on="2026-05-18") == WATCHED


@pytest.mark.parametrize(
    ("visits", "reason"),
    [
        (
            (seen("05-10", nest="shaped cup", species=BLUEBIRD), seen("05-20", nest="none")),
            "no egg or young was counted in it",
        ),
        (
            (seen("05-10", eggs=5, species=BLUEBIRD),),
            "it was seen alive on one day only, so no day of it was watched",
        ),
        (
            (seen("05-10", eggs=5, adult="sitting", actions="nest removed", species=BLUEBIRD),),
            "the keeper took the living nest out",
        ),
    ],
)
def test_every_attempt_without_exposure_is_listed_with_its_reason(
    visits: tuple[dict[str, Any], ...], reason: str
) -> None:
    whole = table(*visits)
    assert len(whole.intervals) == 0
    assert for_survival(whole).listed(whole) == [LeftOut("A1", 2026, 1, reason)]


def test_an_attempt_counts_or_has_a_reason_in_every_made_season() -> None:
    boxes = [f"B{i:03d}" for i in range(200)]
    season = simulate_season(boxes, year=2025, seed=8, cases=deal_cases(boxes, seed=8))
    whole = dated_table(read_season(season, boxes), on=dt.date(2025, 12, 31))
    which = for_survival(whole)
    assert which.counted.sum() + len(which.listed(whole)) == len(whole)
    assert set(np.flatnonzero(which.counted)) == set(whole.intervals.nest.tolist())
    assert (whole.intervals.days >= 1).all()
    assert (whole.intervals.egg_days >= 0).all()
    assert (whole.intervals.young_days >= 0).all()
    lost = np.bincount(whole.intervals.nest[whole.intervals.lost], minlength=len(whole))
    failed = (whole.fate == c.FATE_FAILED) & ~whole.taken_out & which.counted
    assert lost.tolist() == failed.astype(int).tolist()


def test_success_leaves_out_what_is_unknown_ongoing_or_taken_out() -> None:
    def reasons(whole: SeasonTable) -> dict[str, int]:
        return for_success(whole).left_out()

    assert reasons(table(*HATCHED, seen("06-14", **EMPTY))) == {"its outcome is unknown": 1}
    assert reasons(table(*LAYING, on="2026-05-18")) == {"it is still going on": 1}
    assert reasons(table(*HATCHED, seen("05-31", **EMPTY, signs="nest torn"))) == {}


def test_only_the_requested_season_and_species_are_in_the_table() -> None:
    visits = (
        *(seen(f"2025-05-{d}", eggs=4, species=SWALLOW) for d in (10, 14)),
        seen("2025-05-20", **EMPTY, signs="nest torn"),
        *LAYING,
    )
    histories = read(*visits)
    on = dt.date(2026, 12, 31)
    assert len(dated_table(histories, on=on)) == 2
    last_year = dated_table(histories, on=on, seasons=[2025])
    assert (last_year.species(), last_year.seasons()) == ([SWALLOW], ["2025"])
    assert last_year.checked.tolist() == [[0, 2025]]
    bluebirds = dated_table(histories, on=on, species="Eastern Bluebird")
    assert bluebirds.species() == [BLUEBIRD]
    assert len(dated_table(histories, on=on, species="house wren")) == 0
    with pytest.raises(BadValue, match="Expected a species of the guide"):
        dated_table(histories, on=on, species="dodo")


def test_a_day_before_the_last_visit_is_refused() -> None:
    with pytest.raises(BadValue, match="not before the last visit on 2026-05-17"):
        table(*LAYING, on="2026-05-01")


def test_taking_attempts_keeps_their_own_intervals() -> None:
    second = [seen(d, eggs=4, species=BLUEBIRD) for d in ("06-20", "06-27")]
    gone = seen("05-24", **EMPTY, signs="nest torn")
    whole = table(*LAYING, gone, *second)
    assert len(whole) == 2
    later = whole.take(np.array([False, True]))
    assert (later.intervals.nest.tolist(), later.intervals.start_day.tolist()) == (
        [0],
        [day("06-20")],
    )
    by_fate = whole.grouped(["lost", None])
    assert list(by_fate) == ["lost"]
    assert by_fate["lost"].intervals.lost.tolist() == [False, False, True]


def test_a_trail_without_visits_has_an_empty_table() -> None:
    nothing = table()
    assert (len(nothing), len(nothing.intervals), len(nothing.checked)) == (0, 0, 0)
