"""What a visit found, and a box's card, in words."""

import datetime as dt

import pytest

from layers.nesting.card import box_card, inside
from layers.trail.measures import format_distance, format_height, format_mm
from layers.trail.schema import TABLES
from layers.trail.settings import Settings
from layers.words import format_age, format_count
from tests.nesting.notebook import read
from tests.nesting.test_reading import FLEDGED, HATCHED


@pytest.mark.parametrize(
    ("row", "message"),
    [
        ({"eggs": 5, "eggs_warm": "yes"}, "5 eggs, warm"),
        ({"eggs": 1, "eggs_warm": "no", "adult": "none"}, "1 egg, cold; no adult seen"),
        ({"young": 4, "young_days": 0}, "4 young, newly hatched"),
        (
            {"young": 4, "young_days": 6, "dead_young": 1},
            "4 young, about six days old; 1 dead young",
        ),
        ({"eggs": 3, "parasite_eggs": 1}, "3 eggs; 1 egg of a parasite"),
        ({"young": 2, "parasite_young": 1}, "2 young; 1 young of a parasite"),
        ({"eggs": 0, "young": 0, "nest": "none"}, "no eggs and no young; no nest"),
        ({"eggs": 0}, "no eggs"),
        ({"adult": "sitting"}, "adult sitting"),
        ({}, ""),
    ],
)
def test_what_was_recorded_is_worded_and_nothing_else(row: dict[str, object], message: str) -> None:
    assert inside(row) == message


def test_counts_are_words_up_to_ten() -> None:
    assert format_count(1, "egg", "eggs") == "one egg"
    assert format_count(11, "egg", "eggs") == "11 eggs"
    assert format_age(1) == "about one day old"


def test_lengths_are_given_in_the_units_of_the_trail() -> None:
    # 25.4 mm to the inch and 0.3048 m to the foot are exact (international agreement, 1959).
    assert format_mm(38.1, "us") == "1 1/2 in"
    assert format_mm(38.0, "metric") == "38 mm"
    assert format_height(1.524, "us") == "5.0 ft"
    assert format_distance(1609.344, "us") == "1.00 mi"
    assert format_distance(240.4, "metric") == "240 m"
    assert format_distance(999.6, "metric") == "1.00 km"
    assert format_distance(304.7, "us") == "0.19 mi"


def test_a_card_holds_set_up_nests_and_visits_newest_first() -> None:
    histories = read(*FLEDGED)
    box = dict.fromkeys(TABLES["boxes"].columns) | {
        "box": "A1",
        "hole_mm": 38.0,
        "guards": "cone;hole plate",
        "lon": -77.9,
        "lat": 42.6,
    }
    rows = [
        dict.fromkeys(TABLES["visits"].columns) | row | {"seen_on": row["seen_on"].isoformat()}
        for row in FLEDGED
    ]
    settings = Settings("Alderbeck", "America/New_York", units="us")
    card = box_card(histories, box, rows, settings=settings, on=dt.date(2026, 6, 30))
    assert card["facts"] == [["Hole", "1 1/2 in"], ["Guards", "cone, hole plate"]]
    assert [nest["fate"] for nest in card["attempts"]] == ["fledged"]
    assert card["visits"][0]["date"] == "2026-05-28"
    (caution,) = card["cautions"]
    assert caution.startswith("Not opened since 28 May: watch it from a distance")


def test_a_card_warns_once_young_may_leave_too_early() -> None:
    histories = read(*HATCHED)
    box = dict.fromkeys(TABLES["boxes"].columns) | {"box": "A1", "lon": None, "lat": None}
    rows = [
        dict.fromkeys(TABLES["visits"].columns) | row | {"seen_on": row["seen_on"].isoformat()}
        for row in HATCHED
    ]
    settings = Settings("Alderbeck", "America/New_York")

    def cautions(day: int) -> list[str]:
        on = dt.date(2026, 5, day)
        found: list[str] = box_card(histories, box, rows, settings=settings, on=on)["cautions"]
        return found

    # The guide closes bluebird boxes from day 12; these hatched about 5 May.
    assert cautions(14) == []
    assert any("Watch from a distance" in caution for caution in cautions(18))
