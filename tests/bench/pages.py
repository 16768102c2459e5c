"""The map page and its data for 10,000 boxes, beside a Folium map made box by box."""

from __future__ import annotations

import asyncio
import gzip
import html
import tempfile
import time
from collections.abc import MutableMapping
from datetime import date
from pathlib import Path

import folium
import geopandas as gpd
from fastapi import FastAPI

from layers.maps.page import Sources, map_page
from layers.maps.payload import base_payload, season_payload
from layers.maps.symbols import OKABE_ITO
from layers.nesting.dating import date_attempts
from layers.nesting.guide import standard_guide
from layers.nesting.histories import Histories, read_histories
from layers.nesting.timeline import timeline
from layers.trail.settings import Settings
from layers.trail.store import Trail
from layers.trail.words import OCCUPANCY
from server.app import create_app
from server.settings import ServerSettings
from tests.bench.clock import best_of, heading, line
from tests.many_boxes import many_boxes

BOXES = 10_000
DAY = date(2026, 6, 3)
SETTINGS = Settings("Many", "America/New_York")
SOURCES = Sources("/base", "/season/{season}", "/ground", "/card/{box}")


def loop_page(boxes: gpd.GeoDataFrame, histories: Histories) -> str:
    """The plain way: a marker and a popup for each box, and Folium writes them all down."""
    states = timeline(histories, date_attempts(histories), season=DAY.year, on=DAY).on(DAY)
    colours = list(OKABE_ITO.values())
    plain_map = folium.Map(tiles=None)
    for box, point, occupancy in zip(boxes["box"], boxes.geometry, states.occupancy, strict=True):
        said = f"<b>{html.escape(box)}</b><br>{OCCUPANCY[occupancy]}"
        folium.CircleMarker(
            (point.y, point.x), radius=6, color=colours[occupancy], popup=folium.Popup(said)
        ).add_to(plain_map)
    page: str = plain_map.get_root().render()
    return page


def our_page(boxes: gpd.GeoDataFrame, histories: Histories) -> tuple[str, bytes, bytes]:
    """Ours: a page that is the same for every trail, and packed, compressed data beside it."""
    page = map_page(
        title="Many", sources=SOURCES, assets_url="/static/map", scripts_url="/static/js"
    )
    base = base_payload(boxes, histories, settings=SETTINGS, on=DAY)
    table = timeline(histories, date_attempts(histories), season=DAY.year, on=DAY)
    season = season_payload(table, season=DAY.year, boxes=len(histories.visits.boxes))
    return page, gzip.compress(base, 1), gzip.compress(season, 1)


def cached_s(boxes: gpd.GeoDataFrame) -> float:
    """Seconds for the page and both data sets out of a server's memory, version asked each time."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "many.gpkg"
        with Trail.create(path, SETTINGS) as trail:
            rows = zip(boxes["box"], boxes["section"], boxes.geometry, strict=True)
            trail.add_rows(
                "boxes", [{"box": b, "section": s, "geometry": point} for b, s, point in rows]
            )
        return asyncio.run(_ask_again(create_app(ServerSettings(trail=path, on=DAY))))


async def _ask_again(app: FastAPI) -> float:
    async def receive() -> dict[str, object]:
        return {"type": "http.request", "body": b"", "more_body": False}

    async def send(message: MutableMapping[str, object]) -> None:
        assert message.get("status", 200) == 200

    headers = [(b"host", b"127.0.0.1"), (b"accept-encoding", b"gzip")]
    paths = ("/", "/map/base", f"/map/season/{DAY.year}")
    scopes = [
        {
            "type": "http",
            "method": "GET",
            "path": path,
            "raw_path": path.encode(),
            "query_string": b"",
            "headers": headers,
            "scheme": "http",
            "server": ("127.0.0.1", 80),
            "http_version": "1.1",
        }
        for path in paths
    ]
    async with app.router.lifespan_context(app):
        for scope in scopes:
            await app(dict(scope), receive, send)
        took_s = []
        for _ in range(10):
            # The server warms up in a thread meanwhile: the quickest of some tries counts.
            await asyncio.sleep(0.5)
            begun = time.perf_counter()
            for _ in range(200):
                for scope in scopes:
                    await app(scope, receive, send)
                await asyncio.sleep(0)
            took_s.append((time.perf_counter() - begun) / 200)
        return min(took_s)


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
    line("out of memory, as last committed", cached_s(boxes), plain="the same", plain_s=plain_s)


if __name__ == "__main__":
    main()
