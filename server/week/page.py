"""The week's page: who has time when, and which boxes on which day by whom."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request, Response

from layers.errors import CallerError
from server.rounds.planning import format_minutes, place_names
from server.web.problems import STATUS
from server.web.responses import Live, cached_page, requested_day
from server.week.api import WeekQuery, asked_week
from server.week.view import Week, WeekRequest, describe_walk_times

router = APIRouter(include_in_schema=False)


@router.get("/week")
def week_page(request: Request, live: Live, query: Annotated[WeekQuery, Query()]) -> Response:
    """The form, and the week if free time is given."""
    contents = live.contents()
    week: Week | None = None
    refused: CallerError | None = None
    if any(text.strip() for text in query.free):
        try:
            week = asked_week(live, query)
        except CallerError as error:
            refused = error
    on = requested_day(live, query.on)
    values = {
        "fields": query,
        "on": on,
        "days": WeekRequest(on, ()).days,
        "places": place_names(contents.ground),
        "week": week,
        "refused": refused,
        "query": request.url.query,
        "times": describe_walk_times,
        "minutes": format_minutes,
    }
    answer = cached_page(request, contents, "week.html", values)
    if refused is not None:
        answer.status_code = STATUS[type(refused)]
    return answer
