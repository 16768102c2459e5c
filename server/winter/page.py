"""What boxes need before the next season: a page to print and take along."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request, Response

from layers.nesting.winter import CAUTIONS, ROUTINE
from server.web.queries import AboutDay
from server.web.responses import Live, cached_page, requested_day
from server.winter.api import winter_once

router = APIRouter(include_in_schema=False)


@router.get("/winter")
def winter_page(request: Request, live: Live, query: Annotated[AboutDay, Query()]) -> Response:
    """What each box needs, in the order of a walk."""
    contents, found = winter_once(live, on=requested_day(live, query.on))
    values = {"winter": found, "cautions": CAUTIONS, "routine": ROUTINE}
    return cached_page(request, contents, "winter.html", values)
