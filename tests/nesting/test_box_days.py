"""The days on a box's card are those of the engine, told for that box alone."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from layers.nesting.box_days import days_records
from layers.nesting.dating import known_on
from layers.nesting.forecast import forecast
from layers.nesting.histories import Histories
from layers.nesting.nests import begun
from layers.nesting.pictures import STYLES
from tests.maps.made import ON, known, made
from tests.nesting.notebook import BLUEBIRD, read, seen
from tests.nesting.test_reading import FLEDGED, HATCHED


def records(histories: Histories, box: str, on: dt.date) -> list[dict[str, Any]]:
    return days_records(*known_on(histories.of_box(box), on), on=on)


def test_the_days_of_a_box_are_those_of_the_whole_trail_as_known_on_the_day() -> None:
    histories, dates = known(ON)
    compared = 0
    for box in histories.visits.boxes:
        attempts = begun(histories, on=ON, box=box)
        told = records(made().histories, box, ON)
        for attempt, record in zip(attempts, told, strict=True):
            found = dates.of(attempt)
            events = {day["event"]: day for day in record["days"]}
            for event, dated in (("first egg", found.first_egg), ("hatching", found.hatch)):
                if event not in events:
                    continue
                assert dated is not None
                assert events[event]["best"] == dated.best.isoformat()
                assert events[event]["within_80"] == [day.isoformat() for day in dated.days_80]
                assert events[event]["within_95"] == [day.isoformat() for day in dated.days_95]
                compared += 1
            expected = forecast(histories, dates, attempt, on=ON)
            assert [(one["kind"], one["first"]) for one in record["forecast"]] == [
                (one.kind, one.first.isoformat()) for one in expected
            ]
    assert compared > 100


def test_what_rests_on_memory_is_stated_once_and_marked_at_each() -> None:
    wrens = [row | {"species": "carolina wren"} for row in HATCHED]
    (record,) = records(read(*wrens), "A1", dt.date(2026, 5, 12))
    said = [one["text"] for one in record["forecast"] if one["memory"]]
    assert said
    assert all("From memory" in text and "set your own" not in text for text in said)
    assert record["memory"] == [
        "days between eggs",
        "incubation days",
        "nestling days",
        "age from which the box stays closed",
    ]


def test_visits_that_contradict_each_other_are_named() -> None:
    odd = [*FLEDGED[:4], seen("05-06", young=5, young_days=12), *FLEDGED[5:]]
    (record,) = records(read(*odd), "A1", dt.date(2026, 6, 1))
    assert record["contradiction"]
    assert record["contradiction"] in record["date_reasons"]
    (plain,) = records(read(*FLEDGED), "A1", dt.date(2026, 6, 30))
    assert plain["contradiction"] is None


def test_a_nest_that_no_one_had_seen_by_the_day_is_not_known_on_it() -> None:
    histories = read(seen("05-01", eggs=4, species=BLUEBIRD))
    assert records(histories, "A1", dt.date(2026, 4, 30)) == []
    assert len(records(histories, "A1", dt.date(2026, 5, 1))) == 1


@pytest.mark.parametrize("on", [dt.date(2026, 5, 12), dt.date(2026, 5, 30)])
def test_every_bar_of_a_picture_is_on_its_axis(on: dt.date) -> None:
    drawn = 0
    for box in made().histories.visits.boxes:
        for record in records(made().histories, box, on):
            picture = record["picture"]
            if picture is None:
                continue
            for row in picture["rows"]:
                for part in row["parts"]:
                    assert picture["from"] < part["from"] < part["to"] < picture["to"]
                    assert part["style"] in STYLES
            assert 1 <= len(picture["marks"]) <= 6
            drawn += 1
    assert drawn > 60


def test_a_picture_shades_both_intervals_of_first_egg_hatching_and_fledging() -> None:
    (record,) = records(read(*FLEDGED), "A1", dt.date(2026, 6, 30))
    rows = {
        row["label"]: [part["style"] for part in row["parts"]] for row in record["picture"]["rows"]
    }
    for event in ("First egg", "Hatching", "Fledging"):
        assert rows[event] == ["95", "80", "best"]
