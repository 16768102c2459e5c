"""The round's page, its print sheet and its QR code."""

from __future__ import annotations

import io
from datetime import date
from typing import Annotated
from urllib.parse import urlencode

import segno
from anyio import to_thread
from fastapi import APIRouter, Query, Request, Response

from layers.errors import BadValue, CallerError
from layers.nesting.cautions import ALWAYS
from layers.walking.pace import PACES, pace_of
from server.live.contents import Contents
from server.live.trail import LiveTrail
from server.rounds.api import RoundQuery, in_turn
from server.rounds.learnt import offered
from server.rounds.planning import (
    Planned,
    format_minutes,
    place_names,
    planned_once,
    sections,
)
from server.rounds.profile import profile_svg
from server.rounds.sheet import HAZARD, sheet_page
from server.rounds.view import walk_views
from server.settings import LOOPBACK_NAMES, ServerSettings
from server.web.base import outside
from server.web.problems import STATUS
from server.web.responses import Live, cached, cached_page, requested_day

router = APIRouter(include_in_schema=False)

LARGE = "&large=true"
"""What the link to large print adds to a round's query."""

HTML = "text/html; charset=utf-8"


@router.get("/round")
async def round_page(
    request: Request, live: Live, query: Annotated[RoundQuery, Query()]
) -> Response:
    """The form, and the round if one is requested."""
    if not request.url.query:
        # The empty form need not wait for others' plans.
        return await to_thread.run_sync(_page, request, live, query)
    return await in_turn(request, _page, request, live, query)


def _page(request: Request, live: LiveTrail, query: RoundQuery) -> Response:
    contents = live.contents()
    found: Planned | None = None
    refused: CallerError | None = None
    if request.url.query:
        try:
            found = _planned(live, contents, query)
        except CallerError as error:
            refused = error
    on = requested_day(live, query.on)
    values = {
        "fields": query,
        "on": on,
        "places": place_names(contents.ground),
        "sections": sections(contents.ground),
        "paces": list(PACES),
        "due": sum(one.due for one in contents.due(on)),
        "refused": refused,
        "query": request.url.query,
        "reachable": _reachable(request.app.state.settings),
        "always": ALWAYS,
        "planned": found,
        "learnt": None if found is None else _learnt(contents, query, on),
    }
    if found is not None:
        values |= _round_values(contents, found)
    answer = cached_page(request, contents, "round.html", values)
    if refused is not None:
        answer.status_code = STATUS[type(refused)]
    return answer


def _learnt(contents: Contents, query: RoundQuery, on: date) -> tuple[str, str] | None:
    """The pace of earlier rounds beside that of the form, and the query that takes it.

    The query is empty where the form has that pace already.
    """
    found = offered(contents, on=on, pace=pace_of(query.pace), stop_minutes=query.stop_minutes)
    if found is None:
        return None
    if (pace_of(query.pace), query.stop_minutes) == (found.pace, found.stop_minutes):
        return found.text, ""
    taken = {"pace": f"{found.pace.kmh:g}", "stop_minutes": f"{found.stop_minutes:g}"}
    fields = [
        (name, value)
        for name, values in query.model_dump(by_alias=True, exclude_unset=True).items()
        for value in (values if isinstance(values, (list, tuple)) else [values])
        if name not in taken and value is not None
    ]
    return found.text, urlencode([*fields, *taken.items()], safe=",:")


def _planned(live: LiveTrail, contents: Contents, query: RoundQuery) -> Planned:
    return planned_once(
        contents, query.wanted(contents.ground, today=requested_day(live, query.on))
    )


def _round_values(contents: Contents, found: Planned) -> dict[str, object]:
    walked = found.round
    record = walk_views(contents, found)
    drawn = [profile_svg(walk, units=found.units) for walk in walked.walks if walk.stops]
    return {
        "walks": list(zip(record, drawn, strict=True)),
        "longest": format_minutes(walked.minutes),
        "hazards": [text for text in walked.warnings if text.startswith(HAZARD)],
        "warnings": [text for text in walked.warnings if not text.startswith(HAZARD)],
        "proof": found.proof_text,
        "order_notes": found.order_notes,
        "like": ",".join(box for walk in walked.walks for stop in walk.stops for box in stop.boxes),
    }


def _reachable(settings: ServerSettings) -> bool:
    """Whether another device can open what a QR code of this server holds."""
    return settings.public_url is not None or settings.host not in LOOPBACK_NAMES


def outside_address(settings: ServerSettings, *, own: str) -> str:
    """Where other devices reach the server: its public address, or the one of the request."""
    return outside(settings.public_url or own)


class SheetQuery(RoundQuery):
    large: bool = False


@router.get("/round/sheet")
async def sheet(request: Request, live: Live, query: Annotated[SheetQuery, Query()]) -> Response:
    """The round as a sheet to print."""
    return await in_turn(request, _sheet, request, live, query)


def _sheet(request: Request, live: LiveTrail, inputs: SheetQuery) -> Response:
    contents = live.contents()
    query = request.url.query.removesuffix(LARGE)
    page = sheet_page(contents, _planned(live, contents, inputs), back=query, large=inputs.large)
    return cached(request, contents, page.encode(), media_type=HTML)


@router.get("/round/code.svg")
def code(request: Request, query: Annotated[RoundQuery, Query()]) -> Response:
    """A QR code of the address that opens a round on a phone, as it is requested."""
    page = "field" if "field" in request.app.state.features else "round"
    base = outside_address(
        request.app.state.settings, own=f"{request.url.scheme}://{request.url.netloc}"
    )
    try:
        made = segno.make_qr(f"{base}/{page}?{request.url.query}", error="l")
    except segno.DataOverflowError as error:
        raise BadValue(
            "fewer boxes, for a QR code", f"{len(query.boxes)}", column="boxes"
        ) from error
    body = io.BytesIO()
    made.save(body, kind="svg", light="#fff", omitsize=True)
    # The address names the person, so the answer is stored for no other.
    return Response(
        body.getvalue(), media_type="image/svg+xml", headers={"Cache-Control": "no-store"}
    )
