"""The map, and the packed data that its script draws."""

from __future__ import annotations

from dataclasses import asdict, replace
from datetime import date
from pathlib import Path
from typing import Annotated, Any
from urllib.parse import urlsplit

import orjson
from fastapi import APIRouter, Query, Request, Response
from fastapi import Path as Place
from pydantic import Field

from layers.errors import NotKnown
from layers.maps.page import Sources, Tiles, inline_hashes, map_page
from layers.maps.payload import base_payload, due_payload, ground_payload, season_payload
from layers.trail.background import (
    background_of,
    background_tile,
    background_within,
    media_type,
)
from layers.trail.settings import season_of
from server.live.contents import Contents
from server.web.base import at
from server.web.queries import AboutDay, Nothing, Parameters
from server.web.responses import Live, cached, cached_page, requested_day

router = APIRouter(include_in_schema=False)

ASSETS_URL, SCRIPTS_URL = "/static/map", "/static/js"
PACKED = "application/octet-stream"


def _sources() -> Sources:
    return Sources(
        base=at("/map/base"),
        season=at("/map/season/{season}"),
        ground=at("/map/ground"),
        card=at("/boxes/{box}/card?on={day}"),
        due=at("/map/due?on={day}"),
    )


@router.get("/")
def whole_map(request: Request, live: Live) -> Response:
    """The map of the whole trail; while there is nothing on it, what to do first."""
    contents = live.contents()
    if contents.ground.boxes.empty and contents.ground.paths.empty:
        return cached_page(request, contents, "empty_trail.html", {"file": live.path.name})
    query = request.app.state.settings.tiles
    tiles = None if query is None else Tiles(query.url, query.attribution)
    html = map_page(
        title=contents.settings.name,
        sources=_sources(),
        assets_url=ASSETS_URL,
        scripts_url=SCRIPTS_URL,
        links=[
            replace(link, address=at(link.address))
            for link in request.app.state.links
            if link.prominent and link.address != "/"
        ],
        tiles=tiles,
    )
    answer = cached(request, contents, html.encode(), media_type="text/html; charset=utf-8")
    answer.headers["Content-Security-Policy"] = _policy(html, tiles)
    return answer


def _policy(html: str, tiles: Tiles | None) -> str:
    """The strictest policy under which the page works: its own scripts, and Folium's one."""
    scripts, styles = inline_hashes(html)
    pictures = ["'self'", "data:"]
    if tiles is not None:
        parts = urlsplit(tiles.url.replace("{s}", "*"))
        pictures.append(f"{parts.scheme}://{parts.netloc}")
    return (
        f"default-src 'none'; script-src {' '.join(['self_', *scripts])}; "
        f"style-src {' '.join(['self_', *styles])}; img-src {' '.join(pictures)}; "
        "connect-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
    ).replace("self_", "'self'")


@router.get("/map/base")
def base(request: Request, live: Live) -> Response:
    """Every box, and what the symbols are."""
    contents, today = _known(live)
    body = base_payload(
        contents.ground.boxes, contents.histories, settings=contents.settings, on=today
    )
    return cached(request, contents, body, media_type=PACKED)


@router.get("/map/season/{season}")
def season_of_map(request: Request, live: Live, season: int) -> Response:
    """What every box is on every day of one season."""
    contents, today = _known(live)
    present = season_of(today, contents.settings.season_starts)
    if season not in {*contents.histories.seasons(), present}:
        raise NotKnown(f"Expected a season with visits, got {season}")
    body = season_payload(
        contents.timeline(season, today), season=season, boxes=len(contents.ground.boxes)
    )
    return cached(request, contents, body, media_type=PACKED)


def _known(live: Live) -> tuple[Contents, date]:
    """The trail as known today, and that day; with `--on`, the map knows no later visit either."""
    today = live.today()
    return live.contents().known_on(today), today


@router.get("/map/due")
def due_of_map(request: Request, live: Live, query: Annotated[AboutDay, Query()]) -> Response:
    """What every box needs on one day."""
    contents, on = live.contents(), requested_day(live, query.on)
    body = due_payload(contents.due(on), boxes=contents.ground.ids, on=on)
    return cached(request, contents, body, media_type=PACKED)


@router.get("/map/ground")
def ground(request: Request, live: Live) -> Response:
    """Paths, places and zones, and where the pictures of the ground are."""
    contents = live.contents()
    body = ground_payload(
        paths=contents.ground.paths,
        places=contents.ground.places,
        zones=contents.ground.zones,
        background=_background(live.path),
    )
    return cached(request, contents, body, media_type="application/json")


def _background(trail: Path) -> dict[str, Any] | None:
    known = background_of(trail)
    if known is None:
        return None
    return asdict(known) | {"url": at(f"/map/background/{known.version}/{{z}}-{{x}}-{{y}}")}


@router.get("/map/background/{version}/{tile}")
def background_picture(
    live: Live,
    version: str,
    tile: Annotated[str, Place(pattern=r"^\d{1,2}-\d{1,9}-\d{1,9}$")],
    query: Annotated[Nothing, Query()],
) -> Response:
    """One tile of the trail's own background, by zoom, column and row from the north."""
    del query
    known = background_of(live.path)
    zoom, column, row = map(int, tile.split("-"))
    picture = background_tile(live.path, zoom, column, row)
    # Of another version there are none; what is no picture was put there by others.
    kind = None if picture is None else media_type(picture)
    if known is None or known.version != version or kind is None:
        return Response(status_code=204)
    headers = {"Cache-Control": "private, max-age=31536000, immutable"}
    return Response(picture, media_type=kind, headers=headers)


class Around(Parameters):
    """Some bounds, in degrees."""

    west: Annotated[float, Field(ge=-180, le=180)]
    south: Annotated[float, Field(ge=-90, le=90)]
    east: Annotated[float, Field(ge=-180, le=180)]
    north: Annotated[float, Field(ge=-90, le=90)]


@router.get("/map/background")
def background_tiles(live: Live, query: Annotated[Around, Query()]) -> Response:
    """The tiles within some bounds, by zoom, for a device that keeps them: how many bytes each."""
    bounds = query.west, query.south, query.east, query.north
    found = [asdict(one) for one in background_within(live.path, bounds)]
    return Response(orjson.dumps(found), media_type="application/json")
