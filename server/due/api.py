"""What is due, as JSON, and the nest calendar that calendar programs subscribe to."""

from __future__ import annotations

from typing import Annotated, Literal

from fastapi import APIRouter, Query, Request, Response
from pydantic import Field

from layers.errors import NotKnown
from server.due.view import calendar_file, due_records, sections
from server.live.contents import Contents
from server.web.problems import documented
from server.web.queries import AboutDay, Parameters
from server.web.responses import Live, cached, cached_json, requested_day
from server.web.shapes import Shape

router = APIRouter(tags=["due"])

CALENDAR = "text/calendar; charset=utf-8"
"""Media type of an iCalendar file (RFC 5545, 3.1 and 8.1)."""


class AboutDue(AboutDay):
    everything: Annotated[bool, Field(description="Also boxes that need no visit.")] = False
    section: Annotated[str | None, Field(description="Only boxes of this section.")] = None


class AboutCalendar(Parameters):
    box: Annotated[str | None, Field(description="Only of this box.")] = None
    section: Annotated[str | None, Field(description="Only boxes of this section.")] = None


class Reason(Shape):
    """One reason to visit a box; `until` is the last day on which the visit still serves."""

    kind: str
    urgency: Literal["urgent", "due", "can wait"]
    text: str
    until: str | None
    needs_open: bool


class DueBox(Shape):
    """What one box needs on a day, how to approach it, and what to expect inside."""

    box: str
    name: str | None
    section: str | None
    due: bool
    urgency: Literal["urgent", "due", "can wait", "not due"]
    reasons: list[Reason]
    until: str | None
    approach: Literal["open", "watch from a distance; do not open", "leave"]
    approach_text: str
    expected: str
    cautions: list[str]


@router.get("/api/due", response_model=list[DueBox], responses=documented(404, 422, 500))
def due_boxes(request: Request, live: Live, query: Annotated[AboutDue, Query()]) -> Response:
    """Boxes that need a visit on a day, the most urgent first."""
    contents, on = live.contents(), requested_day(live, query.on)
    listed = contents.due(on)
    if query.section is not None:
        within = set(_boxes_of(contents, query.section))
        listed = [one for one in listed if one.box in within]
    found = due_records(contents, listed, on=on, everything=query.everything)
    return cached_json(request, contents, found)


@router.get(
    "/due.ics",
    response_class=Response,
    responses={
        200: {"content": {"text/calendar": {}}, "description": "An iCalendar file (RFC 5545)"},
        **documented(404, 422, 500),
    },
)
def calendar(request: Request, live: Live, query: Annotated[AboutCalendar, Query()]) -> Response:
    """Hatching, banding, closed and check days to come, for a calendar program."""
    contents = live.contents()
    boxes = None if query.section is None else _boxes_of(contents, query.section)
    if query.box is not None:
        contents.ground.row(query.box)
        boxes = [box for box in (query.box,) if boxes is None or box in boxes]
    body = calendar_file(contents, on=live.today(), boxes=boxes)
    answer = cached(request, contents, body, media_type=CALENDAR)
    answer.headers["Content-Disposition"] = 'inline; filename="nests.ics"'
    return answer


def _boxes_of(contents: Contents, section: str) -> list[str]:
    """Boxes of a section; `NotKnown` if no box is in one of that name."""
    found = [box for box, named in sections(contents).items() if named == section]
    if not found:
        raise NotKnown(f"Expected the section of a box, got {section!r}")
    return found
