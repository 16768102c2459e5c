"""What is due, as JSON, and the nest calendar that calendar programs subscribe to."""

from __future__ import annotations

from bisect import bisect_left
from typing import Annotated, Any, Literal
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request, Response
from pydantic import Field

from layers.errors import NotKnown
from layers.nesting.due import URGENT
from server.due.view import calendar_file, due_records, sections
from server.live.contents import Contents
from server.web.base import at
from server.web.problems import documented
from server.web.queries import AboutDay, Parameters
from server.web.responses import Live, cached, cached_json, requested_day
from server.web.shapes import Shape

router = APIRouter(tags=["due"])

CALENDAR = "text/calendar; charset=utf-8"
"""Media type of an iCalendar file (RFC 5545, 3.1 and 8.1)."""


MAX_BOXES = 1_000
"""Of one answer: a trail of 100,000 boxes would give 42 MB after each visit."""

TOTAL, URGENT_OF_ALL = "X-Total-Count", "X-Urgent-Count"


class AboutDue(AboutDay):
    everything: Annotated[bool, Field(description="Also boxes that need no visit.")] = False
    section: Annotated[str | None, Field(description="Only boxes of this section.")] = None
    limit: Annotated[int, Field(description="How many boxes at most.", ge=1, le=MAX_BOXES)] = (
        MAX_BOXES
    )
    offset: Annotated[
        int, Field(description="Pass over as many, the most urgent first.", ge=0, le=10_000_000)
    ] = 0


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


def _header(description: str, kind: str) -> dict[str, Any]:
    return {"description": description, "schema": {"type": kind}}


@router.get(
    "/api/due",
    response_model=list[DueBox],
    responses={
        200: {
            "headers": {
                "Link": _header(
                    "The next boxes, `rel=next` (RFC 8288), if there are more.", "string"
                ),
                TOTAL: _header("Boxes in all.", "integer"),
                URGENT_OF_ALL: _header("Urgent ones in all.", "integer"),
            }
        },
        **documented(404, 422, 500),
    },
)
def due_boxes(request: Request, live: Live, query: Annotated[AboutDue, Query()]) -> Response:
    """Boxes that need a visit on a day, the most urgent first."""
    contents, on = live.contents(), requested_day(live, query.on)
    listed = contents.due(on)
    if query.section is not None:
        within = set(_boxes_of(contents, query.section))
        listed = [one for one in listed if one.box in within]
    # The most urgent are first, those that need no visit last.
    urgent = bisect_left(listed, True, key=lambda one: one.urgency != URGENT)
    total = bisect_left(listed, True, key=lambda one: not (one.due or query.everything))
    end = min(query.offset + query.limit, total)
    found = due_records(contents, listed[query.offset : end], on=on, everything=True)
    answer = cached_json(request, contents, found)
    answer.headers.update({TOTAL: str(total), URGENT_OF_ALL: str(urgent)})
    if query.offset < end < total:
        given = query.model_dump(mode="json", exclude_unset=True) | {"offset": end}
        answer.headers["Link"] = f'<{at(f"/api/due?{urlencode(given)}")}>; rel="next"'
    return answer


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
