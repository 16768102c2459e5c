"""Visits: to read in the order they were entered, and to record."""

from __future__ import annotations

from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request, Response
from pydantic import BaseModel, ConfigDict, StrictInt
from starlette.responses import JSONResponse

from server.visits.recording import record_in_turn
from server.web.authentication.author import Writing
from server.web.authentication.roles import WALKER
from server.web.problems import documented
from server.web.queries import AboutVisits
from server.web.responses import Live, kept_json
from server.web.shapes import Visit, VisitList

router = APIRouter(tags=["visits"])

Cell = str | StrictInt | None


class NewVisit(BaseModel):
    """A visit to record; what is left out or null was not recorded.

    `visit_id` is a uuid that the sender makes, so that sending again saves once.
    `date` and `time` are local, like 2026-05-14 and 09:30; lists are joined by `;`.
    """

    model_config = ConfigDict(extra="forbid")

    box: str
    date: str
    time: str | None = None
    visit_id: str | None = None
    observer: str | None = None
    species: str | None = None
    nest: str | None = None
    eggs: Cell = None
    eggs_warm: str | None = None
    young: Cell = None
    young_days: Cell = None
    dead_young: Cell = None
    adult: str | None = None
    signs: str | None = None
    actions: str | None = None
    opened: str | None = None
    note: str | None = None
    replaces: str | None = None


@router.get("/api/visits", response_model=VisitList, responses=documented(404, 422, 500))
def visits(request: Request, live: Live, asked: Annotated[AboutVisits, Query()]) -> Response:
    """Visits in the order they were entered, some at a time."""
    contents, found = live.consistent(
        lambda trail: trail.visits_entered(
            limit=asked.limit + 1,
            box=asked.box,
            since=asked.since,
            after=asked.after,
            current=not asked.corrected,
        )
    )
    if asked.box is not None:
        contents.ground.row(asked.box)
    following = None
    if len(found) > asked.limit:
        del found[asked.limit :]
        given = asked.model_dump(exclude_defaults=True, exclude_none=True, mode="json")
        given |= {"after": found[-1]["visit_id"]}
        following = f"{request.url.path}?{urlencode(given)}"
    return kept_json(request, contents, {"visits": found, "next": following})


@router.post(
    "/api/visits",
    response_model=Visit,
    status_code=201,
    responses={
        200: {"model": Visit, "description": "Saved before, with the same content"},
        **documented(403, 409, 413, 422, 500, 503, 507),
    },
    dependencies=[WALKER],
)
async def record(live: Live, author: Writing, visit: NewVisit) -> Response:
    """Record a visit. The answer comes once it is on disk."""
    raw = {name: value for name, value in visit.model_dump().items() if value is not None}
    recorded = await record_in_turn(live, raw, author=author)
    return JSONResponse(
        dict(recorded.visit),
        201 if recorded.new else 200,
        headers={"Cache-Control": "no-store"},
    )
