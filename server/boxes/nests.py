"""Every nesting attempt."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request, Response

from layers.nesting.nests import nests
from server.web.problems import documented
from server.web.queries import AboutNests
from server.web.responses import Live, cached_json, requested_day
from server.web.shapes import Nest

router = APIRouter(tags=["nests"])


@router.get("/api/nests", response_model=list[Nest], responses=documented(404, 422, 500))
def all_nests(request: Request, live: Live, query: Annotated[AboutNests, Query()]) -> Response:
    """Every attempt known on a day, with its fate and the reasons for it."""
    on = requested_day(live, query.on)
    contents = live.contents()
    known = contents.known_on(on)
    found = nests(known.histories, known.dates(), on=on, box=query.box, season=query.season)
    return cached_json(request, contents, found)
