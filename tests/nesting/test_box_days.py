"""The days on a box's card are those of the engine, told for that box alone."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from layers.nesting import attempt_columns as c
from layers.nesting.box_days import BoxDays
from layers.nesting.coming import coming
from layers.nesting.dating import date_attempts
from layers.nesting.histories import Histories
from layers.nesting.nests import begun, stage_bar
from layers.nesting.pictures import STYLES
from tests.maps.made import ON, known, made
from tests.nesting.notebook import read, seen
from tests.nesting.test_reading import FLEDGED, HATCHED


def records(histories: Histories, box: str, on: dt.date) -> list[dict[str, Any]]:
    bars = [stage_bar(histories, a, on=on) for a in begun(histories, on=on, box=box)]
    return BoxDays(histories, box, on=on).records(bars)


def test_a_nest_that_is_over_has_the_dates_of_the_whole_trail_dated_at_once() -> None:
    histories = made().histories
    dates, compared = date_attempts(histories), 0
    for box in histories.visits.boxes:
        attempts = begun(histories, on=ON, box=box)
        for attempt, record in zip(attempts, records(histories, box, ON), strict=True):
            if record["known_on"] is not None:
                continue
            found = dates.of(attempt)
            told = {day["event"]: day for day in record["days"]}
            for event, dated in (("first egg", found.first_egg), ("hatching", found.hatch)):
                if event not in told:
                    continue
                assert dated is not None
                assert told[event]["best"] == dated.best.isoformat()
                assert told[event]["within_80"] == [day.isoformat() for day in dated.days_80]
                assert told[event]["within_95"] == [day.isoformat() for day in dated.days_95]
                compared += 1
    assert compared > 100


def test_a_nest_under_way_is_told_as_its_keeper_knew_it_on_that_day() -> None:
    whole, (then, dates) = made().histories, known(ON)
    compared = 0
    for box in whole.visits.boxes:
        before = records(then, box, ON)
        for record in records(whole, box, ON):
            if record["known_on"] is None or not record["days"]:
                continue
            assert record["known_on"] == ON.isoformat()
            (same,) = [one for one in before if one["days"] == record["days"]]
            assert same["coming"] == record["coming"]
            compared += 1
        attempts = then.attempts_of(box)
        if before and before[-1]["coming"]:
            engine = coming(then, dates, attempts[-1], on=ON)
            told = [(one["kind"], one["first"], one["chance"]) for one in before[-1]["coming"]]
            assert told == [
                (one.kind, one.first.isoformat(), round(one.chance, 3)) for one in engine
            ]
    assert compared > 10


def test_what_rests_on_memory_is_told_once_and_marked_at_each() -> None:
    (record,) = records(read(*HATCHED), "A1", dt.date(2026, 5, 12))
    said = [one["text"] for one in record["coming"] if one["memory"]]
    assert said
    assert all("From memory" in text and "set your own" not in text for text in said)
    assert record["memory"] == ["days between eggs", "incubation days", "nestling days"]


def test_visits_that_contradict_each_other_are_told_of() -> None:
    odd = [*FLEDGED[:4], seen("05-06", young=5, young_days=12), *FLEDGED[5:]]
    (record,) = records(read(*odd), "A1", dt.date(2026, 6, 1))
    assert record["contradiction"]
    assert record["contradiction"] in record["date_reasons"]
    (plain,) = records(read(*FLEDGED), "A1", dt.date(2026, 6, 30))
    assert plain["contradiction"] is None


def test_a_nest_that_nobody_had_seen_by_the_day_is_not_dated_from_what_came_later() -> None:
    histories = made().histories
    unseen = [
        (histories.visits.boxes[row[c.BOX]], int(row[c.START]))
        for row in histories.rows
        if row[c.START] < row[c.FIRST_DAY]
    ]
    assert unseen
    box, start = unseen[0]
    on = dt.date(1970, 1, 1) + dt.timedelta(days=start)
    record = records(histories, box, on)[-1]
    assert record["days"] == []
    assert record["date_reasons"] == ["Nobody had seen this nest by that day."]


@pytest.mark.parametrize("on", [dt.date(2026, 5, 12), dt.date(2026, 5, 30)])
def test_every_bar_of_a_picture_lies_on_its_axis(on: dt.date) -> None:
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
