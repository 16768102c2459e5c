"""Answers that may be cached until the trail changes, and what routes need to make them."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Annotated, Any

import orjson
from fastapi import Depends, Request
from starlette.responses import Response

from server.live.contents import Contents
from server.live.trail import LiveTrail
from server.web.templating import rendered


def _live(request: Request) -> LiveTrail:
    live: LiveTrail = request.app.state.live
    request.state.requested_on = live.today()
    return live


Live = Annotated[LiveTrail, Depends(_live)]
"""The trail that the app serves."""


def cached(request: Request, contents: Contents, body: bytes, *, media_type: str) -> Response:
    """An answer about `contents`; its `ETag` lets it be cached until they change."""
    live: LiveTrail = request.app.state.live
    # The day of the request: where the day turned since, it is not cached for the new one.
    record = contents.tag(request.state.requested_on)
    tag = f'W/"{request.app.state.edition}-{live.file_number}-{record}"'
    return Response(body, media_type=media_type, headers={"ETag": tag})


def cached_json(
    request: Request, contents: Contents, value: Any, *, media_type: str = "application/json"
) -> Response:
    """`value` as JSON, to be cached until the trail changes."""
    body = orjson.dumps(value, option=orjson.OPT_SERIALIZE_NUMPY)
    return cached(request, contents, body, media_type=media_type)


def rendered_for(request: Request, template: str, **values: Any) -> str:
    """A page as HTML text, with links to what this app offers."""
    state = request.app.state
    return rendered(template, links=state.links, features=state.features, **values)


def cached_page(
    request: Request, contents: Contents, template: str, values: Mapping[str, Any]
) -> Response:
    """A page about `contents`, to be cached until they change."""
    page = rendered_for(
        request, template, trail=contents.settings, today=request.state.requested_on, **values
    )
    return cached(request, contents, page.encode(), media_type="text/html; charset=utf-8")


def requested_day(live: LiveTrail, on: date | None) -> date:
    """The requested day, or today."""
    return live.today() if on is None else on
