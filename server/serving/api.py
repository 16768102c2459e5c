"""Whether the server is well."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query
from starlette.responses import JSONResponse

from server.web.problems import documented
from server.web.queries import Nothing
from server.web.responses import Live
from server.web.shapes import Health

router = APIRouter()


@router.get("/health", response_model=Health, responses=documented(422, 500), tags=["server"])
def health(live: Live, query: Annotated[Nothing, Query()]) -> JSONResponse:
    """Whether the trail can be read, and how much is in it."""
    contents = live.contents()
    record = Health(
        status="ok",
        version=contents.version,
        boxes=len(contents.ground.boxes),
        visits=len(contents.histories.visits),
        on=live.today().isoformat(),
    )
    return JSONResponse(record.model_dump(), headers={"Cache-Control": "no-store"})
