"""Nearest boxes, and whether the server is well."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request, Response
from starlette.responses import JSONResponse

from server.answers.kept import Live, kept_json
from server.answers.problems import documented
from server.api.questions import AboutPlace, Nothing
from server.api.shapes import Health, Near
from server.told.near import near

router = APIRouter()


@router.get("/api/near", response_model=list[Near], responses=documented(422, 500), tags=["boxes"])
def nearest(request: Request, live: Live, asked: Annotated[AboutPlace, Query()]) -> Response:
    """The boxes nearest to a place, by the shortest line on the earth's surface."""
    contents = live.contents()
    return kept_json(
        request, contents, near(contents.ground, lon=asked.lon, lat=asked.lat, k=asked.k)
    )


@router.get("/health", response_model=Health, responses=documented(422, 500), tags=["server"])
def health(live: Live, asked: Annotated[Nothing, Query()]) -> Response:
    """Whether the trail can be read, and how much is in it."""
    contents = live.contents()
    told = Health(
        status="ok",
        version=contents.version,
        boxes=len(contents.ground.boxes),
        visits=len(contents.histories.visits),
        on=live.today().isoformat(),
    )
    return JSONResponse(told.model_dump(), headers={"Cache-Control": "no-store"})
