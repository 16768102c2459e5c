"""Boxes, what each is on a day, and all about one."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request, Response
from starlette.responses import JSONResponse

from server.boxes.cards import card_of
from server.boxes.view import box_states
from server.live.contents import Contents
from server.web.problems import documented
from server.web.queries import AboutDay
from server.web.responses import Live, cached_json, requested_day
from server.web.shapes import BoxCollection, Card

router = APIRouter(tags=["boxes"])


class GeoJson(JSONResponse):
    media_type = "application/geo+json"


@router.get(
    "/api/boxes",
    response_model=BoxCollection,
    response_class=GeoJson,
    responses=documented(422, 500),
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


@router.get("/api/boxes/{box:path}", response_model=Card, responses=documented(404, 422, 500))
def one_box(
    request: Request, live: Live, box: str, query: Annotated[AboutDay, Query()]
) -> Response:
    """All there is to tell about one box."""
    contents, card = card_of(live, box, on=requested_day(live, query.on))
    return cached_json(request, contents, card)


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
