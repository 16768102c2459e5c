"""The map page and its data for 10,000 boxes, beside a Folium map made box by box."""

from __future__ import annotations

import gzip
import html
import time
from datetime import date

import folium

from data_demo.many import many_boxes
from layers.maps.page import Sources, map_page
from layers.maps.payload import base_payload, season_payload
from layers.maps.symbols import OKABE_ITO
from layers.nesting.guide import standard_guide
from layers.nesting.histories import Histories, read_histories
from layers.nesting.timeline import timeline
from layers.trail.settings import Settings
from layers.trail.words import OCCUPANCY
from tests.bench.clock import best_of, heading, line

BOXES = 10_000
DAY = date(2026, 6, 3)
SETTINGS = Settings("Many", "America/New_York")
SOURCES = Sources("/base", "/season/{season}", "/ground", "/card/{box}")


def loop_page(boxes: object, histories: Histories) -> str:
    """The plain way: a marker and a popup for each box, and Folium writes them all down."""
    states = timeline(histories, season=DAY.year).on(DAY)
    colours = list(OKABE_ITO.values())
    plain_map = folium.Map(tiles=None)
    for box, point, occupancy in zip(
        boxes["box"],  # type: ignore[index]
        boxes.geometry,  # type: ignore[attr-defined]
        states.occupancy,
        strict=True,
    ):
        said = f"<b>{html.escape(box)}</b><br>{OCCUPANCY[occupancy]}"
        folium.CircleMarker(
            (point.y, point.x),
            radius=6,
            color=colours[occupancy],
            popup=folium.Popup(said),
        ).add_to(plain_map)
    page: str = plain_map.get_root().render()
    return page


def our_page(boxes: object, histories: Histories) -> tuple[str, bytes, bytes]:
    """Ours: a page that is the same for every trail, and packed, compressed data beside it."""
    page = map_page(title="Many", sources=SOURCES, assets_url="/static/map")
    base = base_payload(boxes, histories, settings=SETTINGS, on=DAY)
    table = timeline(histories, season=DAY.year)
    season = season_payload(table, season=DAY.year, boxes=len(histories.visits.boxes))
    return page, gzip.compress(base, 1), gzip.compress(season, 1)


def main() -> None:
    heading(f"Page and data of {BOXES:,} boxes, ready on the server")
    boxes, visits = many_boxes(BOXES, seed=1)
    histories = read_histories(visits, standard_guide(), season_starts="01-01")
    our_page(boxes, histories)
    begun = time.perf_counter()
    plain = loop_page(boxes, histories)
    plain_s = time.perf_counter() - begun
    ours_s, parts = best_of(5, lambda: our_page(boxes, histories))
    size = sum(len(part) for part in parts)
    what = f"made anew: {size / 1e6:.2f} MB, a season's days included"
    line(what, ours_s, plain=f"one marker a box, {len(plain) / 1e6:.1f} MB", plain_s=plain_s)


if __name__ == "__main__":
    main()
