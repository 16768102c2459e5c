"""What the field page requests: the day, the key to species, and who walks."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request, Response
from starlette.responses import JSONResponse

from server.field.view import field_day, field_key
from server.web.authentication.roles import Who
from server.web.queries import AboutDay, Nothing
from server.web.responses import Live, cached_json, requested_day

router = APIRouter(include_in_schema=False)


@router.get("/field/day")
def day(request: Request, live: Live, query: Annotated[AboutDay, Query()]) -> Response:
    """Every box as it is known on a day, and what the form needs."""
    contents, on = live.contents(), requested_day(live, query.on)
    body = contents.once(("field", on), lambda: field_day(contents, on))
    return cached_json(request, contents, body)


@router.get("/field/key")
def key(request: Request, live: Live, query: Annotated[AboutDay, Query()]) -> Response:
    """What the page identifies species with."""
    contents, on = live.contents(), requested_day(live, query.on)
    body = contents.once(("field key", on), lambda: field_key(contents, on))
    return cached_json(request, contents, body)


@router.get("/field/walker")
def walker(request: Request, by: Who, query: Annotated[Nothing, Query()]) -> Response:
    """Who walks; `fixed_on` is the day that the server shows, where that is not today."""
    del query
    fixed_on = request.app.state.settings.on
    body = {"name": by.name, "fixed_on": None if fixed_on is None else fixed_on.isoformat()}
    return JSONResponse(body, headers={"Cache-Control": "no-store"})
