"""Dates told in sentences."""

from typing import Any

from layers.nesting.dating import date_attempts, explained
from layers.nesting.histories import Histories
from tests.nesting.dating.nests import piper_histories
from tests.nesting.notebook import read, seen

NONE_YET = seen("05-01", nest="lined cup", eggs=0, young=0)
LAYING = seen("05-04", eggs=3, young=0)


def told(histories: Histories) -> str:
    return "; ".join(explained(histories, date_attempts(histories), 0))


def piper(*visits: dict[str, Any]) -> str:
    return told(piper_histories(*visits))


def test_each_day_comes_with_its_interval_and_what_it_rests_on() -> None:
    message = piper(NONE_YET, LAYING)
    assert "first egg on 2 May: three eggs counted on 4 May, none yet on 1 May" in message
    assert "clutch complete" in message
    assert "hatching, if it came to it, about" in message
    assert "chance that it fledged, or will: 7" in message


def test_a_brood_that_left_is_described_without_ifs() -> None:
    message = piper(
        seen("05-20", eggs=5, young=0),
        seen("05-21", eggs=0, young=5, young_days=0),
        seen("06-06", eggs=0, young=5),
        seen("06-12", eggs=0, young=0, nest="lined cup", signs="flattened"),
    )
    assert "hatching on 21 May: eggs and no young on 20 May, young on 21 May, their age" in message
    assert "fledging about 8 June (95 %: " in message
    assert "loss" not in message
    assert "chance" not in message


def test_the_next_clutch_is_named_where_it_shows_when_one_was_over() -> None:
    looks = (
        NONE_YET,
        seen("05-09", eggs=5, young=0, eggs_warm="yes"),
        seen("06-22", eggs=3, young=0, eggs_warm="no"),
        seen("06-24", eggs=5, young=0),
    )
    assert "over before the next clutch here, whose first egg came about 20 June" in piper(*looks)
    assert "the next clutch" not in piper(*looks[:2])


def test_a_nest_without_eggs_states_that_it_has_nothing_to_date() -> None:
    assert told(read(NONE_YET)) == "no eggs or young were seen, so there is nothing to date"


def test_a_species_not_recorded_is_stated_to_be_dated_by_the_widest_figures() -> None:
    assert "the species is not recorded" in told(read(NONE_YET, LAYING))


def test_a_contradiction_is_stated() -> None:
    sentence = piper(NONE_YET, seen("05-03", eggs=5, young=0))
    assert "the visit of 1 May records no egg, but the first was laid before it" in sentence
