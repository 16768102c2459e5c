"""The week as JSON and as a calendar."""

from __future__ import annotations

from datetime import date
from typing import Annotated

from fastapi import APIRouter, Query, Request, Response
from pydantic import Field

from layers.walking.pace import PACES, pace_of
from server.live.trail import LiveTrail
from server.rounds.api import BreaksQuery
from server.web.problems import documented
from server.web.responses import Live, cached, cached_json, requested_day
from server.web.shapes import Shape
from server.week.view import Week, WeekRequest, read_free, week_days, week_once

router = APIRouter(tags=["week"])

CALENDAR = "text/calendar; charset=utf-8"
"""Media type of an iCalendar file (RFC 5545, 3.1 and 8.1)."""


class WeekQuery(BreaksQuery):
    """A week as it is requested, from the day `on`."""

    free: Annotated[
        tuple[str, ...],
        Field(description="Who has how many minutes when: `Ann: Wed 180, Sat 120`, one a walker."),
    ] = ()
    reserve: Annotated[
        tuple[str, ...], Field(description="Rain days, used where another day falls out.")
    ] = ()
    without: Annotated[tuple[str, ...], Field(description="Days that fell out.")] = ()
    from_: Annotated[
        str | None, Field(alias="from", description="Place to set out from; the first start.")
    ] = None
    pace: Annotated[str, Field(description=f"One of {', '.join(PACES)}, or km/h.")] = "normal"

    def wanted(self, *, today: date) -> WeekRequest:
        """The request, its fields read."""
        on = self.on or today
        return WeekRequest(
            on=on,
            free=read_free(self.free, on=on),
            reserve=week_days(self.reserve, on=on),
            without=week_days(self.without, on=on),
            start=self.from_ or None,
            pace=pace_of(self.pace),
            breaks=self.breaks,
        )


class WeekWalkShape(Shape):
    walker: str
    on: str
    free_minutes: float
    boxes: list[str]
    length_m: float
    minutes: float
    round: str


class MissedShape(Shape):
    box: str
    until: str | None
    reason: str


class WeekShape(Shape):
    """The walks of a week, and due boxes that none of them visits; `round` is a walk's query."""

    on: str
    until: str
    due: int
    walks: list[WeekWalkShape]
    missed: list[MissedShape]
    reserve: list[str]
    without: list[str]


@router.get("/api/week", response_model=WeekShape, responses=documented(404, 422, 500))
def week(request: Request, live: Live, query: Annotated[WeekQuery, Query()]) -> Response:
    """Which boxes on which day by whom, for the days and minutes that walkers have."""
    contents = live.contents()
    return cached_json(request, contents, asked_week(live, query).json())


@router.get(
    "/week.ics",
    responses={
        200: {"content": {"text/calendar": {}}, "description": "An iCalendar file (RFC 5545)"},
        **documented(404, 422, 500),
    },
)
def week_calendar(request: Request, live: Live, query: Annotated[WeekQuery, Query()]) -> Response:
    """The walks of a week as events of a calendar, without places."""
    contents = live.contents()
    body = asked_week(live, query).calendar(contents)
    answer = cached(request, contents, body, media_type=CALENDAR)
    answer.headers["Content-Disposition"] = 'attachment; filename="week.ics"'
    return answer


def asked_week(live: LiveTrail, query: WeekQuery) -> Week:
    """The week that is requested."""
    return week_once(live.contents(), query.wanted(today=requested_day(live, query.on)))
