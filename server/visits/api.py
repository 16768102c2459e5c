"""Visits: to read in the order they were entered, and to record."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import TYPE_CHECKING, Annotated, Any
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request, Response
from pydantic import BaseModel, ConfigDict, Field, StrictFloat, StrictInt, create_model
from starlette.responses import JSONResponse

from layers.nesting.questions import KINDS
from layers.trail.field import Storage
from layers.trail.schema import VISITS, VisitRow
from server.visits.recording import questions_about, record_in_turn
from server.web.authentication.author import Writing
from server.web.authentication.roles import WALKER
from server.web.problems import documented
from server.web.queries import AboutVisits
from server.web.responses import Live, cached_json
from server.web.shapes import Shape, VisitList

router = APIRouter(tags=["visits"])

_CELLS: Mapping[Storage, Any] = {
    "INTEGER": str | StrictInt | None,
    "REAL": str | StrictInt | StrictFloat | None,
}


def _new_visit() -> type[BaseModel]:
    """The columns of a visit that a sender gives, as a model that takes nothing else."""
    fields: dict[str, Any] = {
        field.entry_name: (str, Field(description=field.description))
        if field.required
        else (_CELLS.get(field.storage, str | None), Field(None, description=field.description))
        for field in VISITS.fields
        if field.name != "entered_at"
    }
    about = """A visit to record; what is left out or null was not recorded.

    `visit_id` is a uuid that the sender makes, so that sending again saves once.
    `date` and `time` are local, like 2026-05-14 and 09:30; lists are joined by `;`.
    """
    return create_model("NewVisit", __config__=ConfigDict(extra="forbid"), __doc__=about, **fields)


if TYPE_CHECKING:
    NewVisit = BaseModel
else:
    NewVisit = _new_visit()


@router.get("/api/visits", response_model=VisitList, responses=documented(404, 422, 500))
def visits(request: Request, live: Live, query: Annotated[AboutVisits, Query()]) -> Response:
    """Visits in the order they were entered, some at a time."""
    contents, found = live.consistent(
        lambda trail: trail.visits_entered(
            limit=query.limit + 1,
            box=query.box,
            since=query.since,
            after=query.after,
            current=not query.corrected,
        )
    )
    if query.box is not None:
        contents.ground.row(query.box)
    following = None
    if len(found) > query.limit:
        del found[query.limit :]
        given = query.model_dump(exclude_defaults=True, exclude_none=True, mode="json")
        given |= {"after": found[-1]["visit_id"]}
        following = f"{request.url.path}?{urlencode(given)}"
    return cached_json(request, contents, {"visits": found, "next": following})


class VisitQuestion(Shape):
    """What is odd about a visit; `kind` goes into `confirmed` where it is right all the same."""

    kind: Annotated[str, Field(description=f"One of {', '.join(KINDS)}.")]
    text: str
    reading: Annotated[str, Field(description="What the answer changes in reading the nest.")]
    columns: list[str]


class VisitQuestions(Shape):
    questions: list[VisitQuestion]


@router.post(
    "/api/visits/questions",
    response_model=VisitQuestions,
    responses=documented(403, 413, 422, 500, 503),
    dependencies=[WALKER],
)
def ask(live: Live, visit: NewVisit) -> Response:
    """What to ask about a visit before it is sent; nothing is saved, and nothing refused.

    An odd visit can be true: send it as it is, with the kinds that were confirmed in
    `confirmed`.
    """
    raw = {name: value for name, value in visit.model_dump().items() if value is not None}
    found = [asdict(question) for question in questions_about(live, raw)]
    return JSONResponse({"questions": found}, headers={"Cache-Control": "no-store"})


@router.post(
    "/api/visits",
    response_model=VisitRow,
    status_code=201,
    responses={
        200: {"model": VisitRow, "description": "Saved before, with the same content"},
        **documented(403, 409, 413, 422, 500),
    },
    dependencies=[WALKER],
)
async def record(live: Live, author: Writing, visit: NewVisit) -> Response:
    """Record a visit. The answer comes once it is on disk."""
    raw = {name: value for name, value in visit.model_dump().items() if value is not None}
    recorded = await record_in_turn(live, raw, author=author)
    return JSONResponse(
        dict(recorded.visit), 201 if recorded.new else 200, headers={"Cache-Control": "no-store"}
    )
