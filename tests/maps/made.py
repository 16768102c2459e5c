"""A made-up trail in memory for the map's tests; hostile text in every free column."""

from __future__ import annotations

import datetime as dt
from functools import cache
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

import geopandas as gpd
import pandas as pd

from data_demo.reserve import read_reserve
from data_demo.simulate import deal_cases, simulate_season
from layers.maps.page import self_contained_page
from layers.maps.payload import base_payload, due_payload, ground_payload, season_payload
from layers.nesting.card import box_card
from layers.nesting.dating import Dates, date_attempts, known_on
from layers.nesting.due import Due, due
from layers.nesting.guide import standard_guide
from layers.nesting.histories import Histories, read_histories
from layers.nesting.timeline import timeline
from layers.trail.coding import code_visits
from layers.trail.schema import TABLES
from layers.trail.settings import Settings
from layers.trail.words import ACTIONS, SIGNS

HOSTILE = "<script>window.broken = 1</script><img src=x onerror='window.broken = 1'>\"'&amp;"
ON = dt.date(2026, 6, 3)
SETTINGS = Settings(name=f"Alderbeck {HOSTILE}", timezone="America/New_York")


class Made(NamedTuple):
    """Everything a map page is made from."""

    boxes: gpd.GeoDataFrame
    histories: Histories
    base: bytes
    seasons: dict[int, bytes]
    ground: bytes
    records: list[tuple[dict[str, Any], list[dict[str, Any]]]]
    """Each box's row, and its visits as they are read."""

    def card(self, at: int, on: dt.date = ON) -> dict[str, Any]:
        record, own = self.records[at]
        return box_card(self.histories, record, own, settings=SETTINGS, on=on)

    def cards(self) -> list[dict[str, Any]]:
        return [self.card(at) for at in range(len(self.records))]


def frame(name: str, rows: list[dict[str, Any]]) -> gpd.GeoDataFrame:
    columns = TABLES[name].columns
    data = {
        column: pd.Series(
            [row.get(column) for row in rows],
            dtype="float64" if TABLES[name][column].storage in ("REAL", "INTEGER") else "object",
        )
        for column in columns
    }
    return gpd.GeoDataFrame(data, geometry=[row.get("geometry") for row in rows], crs=4326)


@cache
def made(*, hostile: bool = True) -> Made:
    """60 boxes in four sections, two seasons; one box without a place."""
    reserve = read_reserve()
    rows = sorted((dict(row) for row in reserve.boxes), key=lambda row: row["box"])
    if hostile:
        for row in rows:
            row.update({"name": HOSTILE, "section": row["section"] + HOSTILE, "note": HOSTILE})
        rows[0]["box"] = f"A {HOSTILE}"
        rows.sort(key=lambda row: row["box"])
    rows[-1]["geometry"] = None
    ids = [row["box"] for row in rows]
    visits: list[dict[str, Any]] = []
    for year in (2025, 2026):
        cases = deal_cases(ids, seed=year, share=0.4)
        visits += simulate_season(ids, year=year, seed=year, cases=cases).visits
    if hostile:
        visits = [row | {"note": HOSTILE, "observer": HOSTILE} for row in visits]
    coded = code_visits(
        visits,
        boxes=ids,
        timezone=ZoneInfo(SETTINGS.timezone),
        signs_words=SIGNS,
        actions_words=ACTIONS,
    )
    histories = read_histories(coded, standard_guide(), season_starts="01-01")
    dates = date_attempts(histories)
    boxes = frame("boxes", rows)
    replaced = {row["replaces"] for row in visits}
    current = [row for row in visits if row["visit_id"] not in replaced]
    # The same order as in `Visits`: day, time, entry; rows without a time come first.
    current.sort(key=lambda row: (row["seen_on"], row["seen_at"] is not None, row["seen_at"] or 0))
    records = []
    for row in rows:
        own = [
            visit | {"seen_on": visit["seen_on"].isoformat()}
            for visit in current
            if visit["box"] == row["box"]
        ]
        place = row["geometry"]
        record = {column: row.get(column) for column in TABLES["boxes"].columns}
        for column in ("installed_on", "removed_on", "cleaned_on"):
            record[column] = None if record[column] is None else str(record[column])
        record |= {"lon": place and place.x, "lat": place and place.y}
        records.append((record, own))
    paths, places, zones = (
        frame(name, [dict(row) for row in getattr(reserve, name)])
        for name in ("paths", "places", "zones")
    )
    if hostile:
        for features in (paths, places, zones):
            features["name"] = HOSTILE
    return Made(
        boxes,
        histories,
        base_payload(boxes, histories, settings=SETTINGS, on=ON),
        {
            year: season_payload(
                timeline(histories, dates, season=year, on=ON), season=year, boxes=len(boxes)
            )
            for year in (2025, 2026)
        },
        ground_payload(paths=paths, places=places, zones=zones),
        records,
    )


@cache
def known(on: dt.date) -> tuple[Histories, Dates]:
    """The made-up trail as its keeper knew it on a day."""
    return known_on(made().histories, on)


@cache
def due_on(on: dt.date) -> list[Due]:
    """What is due on a day in the hostile trail, as the engine says it."""
    trail = made()
    guards = dict(zip(trail.boxes["box"], trail.boxes["guards"], strict=True))
    return due(trail.histories, on=on, settings=SETTINGS, guards=guards)


def due_data(on: dt.date) -> bytes:
    """The same as the map's script is given it."""
    return due_payload(due_on(on), boxes=made().boxes["box"].tolist(), on=on)


def self_contained() -> str:
    """The whole map in one file."""
    trail = made()
    return self_contained_page(
        title=SETTINGS.name,
        base=trail.base,
        seasons=trail.seasons,
        ground=trail.ground,
        cards=trail.cards(),
        due=due_data(ON),
    )


def empty_box_frame() -> gpd.GeoDataFrame:
    return frame("boxes", [])
