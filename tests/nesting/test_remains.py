"""What is left in a box, and how a nest ended: the biologist's words first, then the program's."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from layers.nesting.dating import date_attempts
from tests.nesting.notebook import BLUEBIRD, SWALLOW, WREN, read, seen, told

CHICKADEE, SPARROW = "black-capped chickadee", "house sparrow"

LAID = (
    seen("04-20", nest="lined cup", eggs=0, young=0),
    seen("04-27", species=BLUEBIRD, eggs=3, young=0),
    seen("05-04", species=BLUEBIRD, eggs=5, young=0, eggs_warm="yes"),
)
HATCHED = (*LAID, seen("05-18", species=BLUEBIRD, young=4, young_days=2))


def only(*visits: dict[str, Any]) -> dict[str, Any]:
    (nest,) = told(*visits)
    return nest


def test_an_egg_that_a_brood_left_is_not_the_next_clutchs_first() -> None:
    # Five eggs, four young: one egg did not hatch and lies there cold until the next clutch of
    # the year, which came within two weeks before 6 July.
    visits = (
        *HATCHED,
        seen("06-08", nest="lined cup", young=0, signs="flattened"),
        seen("06-15", eggs=1, eggs_warm="no"),
        seen("07-06", species=BLUEBIRD, eggs=4, young=0, eggs_warm="yes"),
    )
    first, second = told(*visits)
    assert first["fate"] == "fledged"
    assert second["first_seen"] == "2026-07-06"
    first_egg = date_attempts(read(*visits)).of(1).first_egg
    assert first_egg is not None
    assert dt.date(2026, 6, 20) <= first_egg.best <= dt.date(2026, 7, 3)


@pytest.mark.parametrize("day", ["05-12", "09-12"])
def test_cold_eggs_cleaned_out_were_no_living_nest(day: str) -> None:
    # Nobody cleans out a nest with a parent on it: the clutch was given up.
    nest = only(seen(day, species=BLUEBIRD, eggs=4, eggs_warm="no", actions="cleaned"))
    assert (nest["fate"], nest["cause"]) == ("failed", "abandoned")
    assert nest["young_fledged"] == 0


def test_warm_eggs_taken_out_were_a_living_nest() -> None:
    nest = only(seen("05-12", species=WREN, eggs=4, eggs_warm="yes", actions="nest removed"))
    assert nest["cause"] == "nest removed"


@pytest.mark.parametrize(
    "end",
    [
        (*LAID, seen("05-11", species=BLUEBIRD, eggs=5, eggs_warm="no", signs="dead adult")),
        (*HATCHED, seen("05-25", young=0, dead_young=4, signs="dead adult")),
    ],
    ids=["eggs", "young"],
)
def test_a_parent_found_dead_is_the_cause(end: tuple[dict[str, Any], ...]) -> None:
    nest = only(*end)
    assert (nest["fate"], nest["cause"]) == ("failed", "parent died")


def test_nine_eggs_at_once_are_dated_by_the_age_of_the_young() -> None:
    # Two females laid here; young of three days on 26 May hatched on 23 May.
    histories = read(
        seen("05-04", nest="lined cup", eggs=0, young=0),
        seen("05-10", species=BLUEBIRD, eggs=9, young=0),
        seen("05-26", species=BLUEBIRD, young=5, young_days=3),
    )
    dates = date_attempts(histories).of(0)
    assert dates.hatch is not None
    assert abs((dates.hatch.best - dt.date(2026, 5, 23)).days) <= 1
    assert dates.first_egg is not None
    assert dates.closed is not None
    assert dates.doubtful is None


def test_an_old_nest_with_droppings_had_young() -> None:
    # Only young leave droppings and tread a nest flat: it was used, and nobody saw the end.
    nest = only(seen("07-20", nest="lined cup", eggs=0, young=0, signs="droppings;flattened"))
    assert nest["fate"] == "unknown"
    assert any("young were raised here" in reason for reason in nest["reasons"])
    assert not any("no egg was ever seen" in reason for reason in nest["reasons"])


def test_a_nest_begun_on_an_old_one_is_no_brood_that_no_one_saw() -> None:
    # The droppings are the chickadees'; the bluebirds have only begun to build over them.
    visits = (
        seen("05-07", species=CHICKADEE, eggs=6, young=0, eggs_warm="yes"),
        seen("05-25", species=CHICKADEE, young=6, young_days=9),
        seen("06-11", nest="lined cup", eggs=0, young=0, signs="flattened;droppings"),
        seen("06-24", species=BLUEBIRD, nest="shaped cup", eggs=0, young=0, signs="droppings"),
        seen("07-02", species=BLUEBIRD, nest="lined cup", eggs=3, young=0),
        seen("07-08", species=BLUEBIRD, eggs=5, young=0, eggs_warm="yes"),
    )
    first, second = told(*visits)
    assert (first["species"], first["fate"]) == (CHICKADEE, "fledged")
    assert (second["species"], second["first_seen"]) == (BLUEBIRD, "2026-06-24")


def test_eggs_that_become_more_are_those_of_the_bird_named_beside_them() -> None:
    # Five swallow's eggs, then three and five: the sparrow that is named at the five threw the
    # swallow's out, and laid the three.
    first, second = told(
        seen("05-17", species=SWALLOW, eggs=5, young=0),
        seen("05-24", species=SWALLOW, eggs=5, young=0),
        seen("06-07", eggs=3),
        seen("06-14", species=SPARROW, eggs=5, young=0, eggs_warm="yes"),
    )
    assert first["fate"] == "failed"
    assert (second["species"], second["first_seen"]) == (SPARROW, "2026-06-07")


def test_eggs_left_behind_are_named_and_articles_are_right() -> None:
    left = only(
        *HATCHED, seen("06-12", nest="lined cup", eggs=1, young=0, signs="flattened;droppings")
    )
    assert any("one egg left (flattened, droppings) on 12 June" in one for one in left["reasons"])
    taken, _ = told(
        seen("05-20", species=WREN, eggs=6, eggs_warm="yes"),
        seen("06-10", species=BLUEBIRD, eggs=4, eggs_warm="yes"),
    )
    assert any("the nest of an eastern bluebird" in one for one in taken["reasons"])


def test_a_clutch_lost_as_eggs_fledged_none_as_other_lost_nests_did() -> None:
    lost = only(*LAID, seen("05-08", nest="lined cup", eggs=0, young=0))
    assert (lost["fate"], lost["young_fledged"]) == ("failed", 0)


def test_an_end_that_no_one_saw_is_decided_by_its_chance_and_says_what_would_have_decided_it() -> (
    None
):
    # Ten days old on 26 May and empty, untouched, on 15 June: nine in ten such broods leave.
    nest = only(
        *HATCHED,
        seen("05-26", species=BLUEBIRD, young=4, young_days=10),
        seen("06-15", nest="lined cup", eggs=0, young=0),
    )
    assert nest["fate"] in ("probably fledged", "fledged", "unknown")
    assert 0.5 < nest["fledged_chance"] < 1
    (message,) = (one for one in nest["reasons"] if "chance that it fledged is" in one)
    assert f"{nest['fledged_chance']:.0%}" in message
    assert ("would have decided it" in message) == (nest["fledged_chance"] < 0.95)
