"""What the script is given is what the histories say."""

from __future__ import annotations

import datetime as dt

import numpy as np
import orjson

from layers.maps.payload import NO_PLACE, _gaps, base_payload, ground_payload
from layers.nesting.dating import date_attempts
from layers.nesting.timeline import timeline
from tests.maps.made import HOSTILE, ON, SETTINGS, empty_box_frame, frame, made
from tests.maps.unpacking import entries, unpack
from tests.nesting.notebook import read


def test_boxes_arrive_with_their_places_to_a_centimetre() -> None:
    trail = made()
    header, columns = unpack(trail.base)
    assert columns["box"] == trail.boxes["box"].tolist()
    points = trail.boxes.geometry[:-1]
    assert np.abs(np.array(columns["lon"][:-1]) / 1e7 - points.x).max() < 6e-8
    assert np.abs(np.array(columns["lat"][:-1]) / 1e7 - points.y).max() < 6e-8
    assert (columns["lon"][-1], columns["lat"][-1]) == (NO_PLACE, NO_PLACE)
    assert header["seasons"] == [2025, 2026]
    assert header["on"] == ON.isoformat()


def test_sections_are_named_once_and_pointed_at() -> None:
    _, columns = unpack(made().base)
    sections = [columns["sections"][int(code)] for code in columns["section"]]
    assert sections == made().boxes["section"].tolist()
    assert len(columns["sections"]) == 4


def test_a_season_arrives_as_its_timeline() -> None:
    trail = made()
    header, columns = unpack(trail.seasons[2026])
    table = timeline(trail.histories, date_attempts(trail.histories), season=2026, on=ON)
    assert header["first_day"] == "2026-01-01"
    assert header["days"] == 365
    changes = entries(columns["changes"], columns["gap"])
    days = [day for own in changes for _, day in own]
    assert [sum(map(len, changes[:at])) for at in range(len(changes) + 1)] == table.offset.tolist()
    assert days == table.day.tolist()
    for name in ("occupancy", "species", "fate"):
        codes = [columns[name][int(columns["state"][at])] for own in changes for at, _ in own]
        assert codes == getattr(table, name).tolist(), name
    assert len(columns["occupancy"]) < len(days)
    visits = entries(columns["visits"], columns["visit_gap"])
    assert [day for own in visits for _, day in own] == table.visit_day.tolist()
    assert [sum(map(len, visits[:at])) for at in range(len(visits) + 1)] == (
        table.visit_offset.tolist()
    )


def test_days_far_apart_are_carried_over() -> None:
    day = np.array([0, 254, 255, 300, 0, 364, 5, 260], np.int16)
    offset = np.array([0, 4, 4, 6, 8], np.int32)
    counts, gaps, _ = _gaps(offset, day)
    found = entries(counts, gaps)
    assert [[own_day for _, own_day in own] for own in found] == [
        [0, 254, 255, 300],
        [],
        [0, 364],
        [5, 260],
    ]


def test_themes_arrive_with_words_and_a_class_for_every_code() -> None:
    header, _ = unpack(made().base)
    assert [theme["name"] for theme in header["themes"]] == ["occupancy", "species", "fate", "due"]
    assert all(symbol["word"] for theme in header["themes"] for symbol in theme["symbols"])


def test_the_ground_arrives_as_three_collections_without_holes() -> None:
    ground = orjson.loads(made().ground)
    assert list(ground) == ["zones", "paths", "places"]
    assert {feature["geometry"]["type"] for feature in ground["paths"]["features"]} == {
        "LineString"
    }
    assert ground["places"]["features"][0]["properties"]["name"] == HOSTILE


def test_an_empty_trail_has_a_payload() -> None:
    empty = empty_box_frame()
    histories = read()
    header, columns = unpack(base_payload(empty, histories, settings=SETTINGS, on=ON))
    assert len(columns["lon"]) == 0
    assert header["seasons"] == [2026]
    ground = orjson.loads(
        ground_payload(
            paths=frame("paths", []), places=frame("places", []), zones=frame("zones", [])
        )
    )
    assert all(collection["features"] == [] for collection in ground.values())


def test_a_southern_season_is_named_after_the_year_it_begins_in() -> None:
    histories = read(season_starts="07-01")
    body = base_payload(empty_box_frame(), histories, settings=SETTINGS, on=dt.date(2026, 6, 3))
    assert unpack(body)[0]["season"] == 2026
