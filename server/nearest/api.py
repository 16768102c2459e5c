"""The boxes nearest to a place."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request, Response

from server.nearest.view import near
from server.web.problems import documented
from server.web.queries import AboutPlace
from server.web.responses import Live, cached_json
from server.web.shapes import Near

router = APIRouter()


@router.get("/api/near", response_model=list[Near], responses=documented(422, 500), tags=["boxes"])
def nearest(request: Request, live: Live, query: Annotated[AboutPlace, Query()]) -> Response:
    """The boxes nearest to a place, by the shortest line on the earth's surface."""
    contents = live.contents()
    return cached_json(
        request, contents, near(contents.ground, lon=query.lon, lat=query.lat, k=query.k)
    )
