"""Boxes, what each is on a day, all about one, and every nesting attempt."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request, Response
from starlette.responses import JSONResponse

from layers.nesting.nests import nests
from server.boxes.view import box_states, card_of
from server.live.contents import Contents
from server.web.problems import documented
from server.web.queries import AboutDay, AboutNests
from server.web.responses import Live, cached_json, requested_day
from server.web.shapes import BoxCollection, Card, Nest

router = APIRouter()


class GeoJson(JSONResponse):
    media_type = "application/geo+json"


@router.get(
    "/api/boxes",
    response_model=BoxCollection,
    response_class=GeoJson,
    responses=documented(422, 500),
    tags=["boxes"],
)
def boxes(request: Request, live: Live, query: Annotated[AboutDay, Query()]) -> Response:
    """Every box as GeoJSON, with what it is on a day."""
    on = requested_day(live, query.on)
    contents = live.contents()
    collection = {
        "type": "FeatureCollection",
        "on": on.isoformat(),
        "features": _features(contents, on),
    }
    return cached_json(request, contents, collection, media_type=GeoJson.media_type)


@router.get(
    "/api/boxes/{box:path}",
    response_model=Card,
    responses=documented(404, 422, 500),
    tags=["boxes"],
)
def one_box(
    request: Request, live: Live, box: str, query: Annotated[AboutDay, Query()]
) -> Response:
    """All that is known of one box."""
    contents, card = card_of(live, box, on=requested_day(live, query.on))
    return cached_json(request, contents, card)


@router.get(
    "/api/nests", response_model=list[Nest], responses=documented(404, 422, 500), tags=["nests"]
)
def all_nests(request: Request, live: Live, query: Annotated[AboutNests, Query()]) -> Response:
    """Every attempt known on a day, with its fate and the reasons for it."""
    on = requested_day(live, query.on)
    contents = live.contents()
    known = contents.known_on(on)
    found = nests(known.histories, known.dates(), on=on, box=query.box, season=query.season)
    return cached_json(request, contents, found)


def _features(contents: Contents, on: date) -> list[dict[str, Any]]:
    frame = contents.ground.boxes
    columns = frame.drop(columns=["fid", "geometry"]).astype(object)
    records = columns.where(columns.notna(), None).to_dict("records")
    return [
        {
            "type": "Feature",
            "id": record["box"],
            "geometry": None
            if point is None
            else {"type": "Point", "coordinates": [point.x, point.y]},
            "properties": {**record, **state},
        }
        for record, point, state in zip(
            records, frame.geometry, box_states(contents, on), strict=True
        )
    ]
