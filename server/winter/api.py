"""What boxes need before the next season."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Literal

from fastapi import APIRouter, Query, Request, Response

from server.live.contents import Contents
from server.live.trail import LiveTrail
from server.web.problems import documented
from server.web.queries import AboutDay
from server.web.responses import Live, cached_json, requested_day
from server.web.shapes import Shape
from server.winter.view import WinterList, notes_of, winter_of

router = APIRouter(tags=["winter"])


class WinterJob(Shape):
    job: Literal["look", "clean", "repair", "guard", "rival", "move", "close"]
    why: str


class WinterBox(Shape):
    box: str
    section: str | None
    jobs: list[WinterJob]
    last_note: str | None


class Likely(Shape):
    about: Literal["hole", "spacing", "habitat", "animal", "wet"]
    why: str
    sources: list[str]


class UnusedBox(Shape):
    box: str
    seasons: list[int]
    likely: list[Likely]


class WinterAnswer(Shape):
    """Boxes with something to do, in the order of a walk; and boxes unused for years."""

    on: str
    boxes: int
    to_do: list[WinterBox]
    unused: list[UnusedBox]
    waiting: list[str]
    routine: list[str]
    order: str


@router.get("/api/winter", response_model=WinterAnswer, responses=documented(422, 500))
def winter(request: Request, live: Live, query: Annotated[AboutDay, Query()]) -> Response:
    """What each box needs before the next season, and why a box may stay unused."""
    contents, found = winter_once(live, on=requested_day(live, query.on))
    return cached_json(request, contents, found.json())


def winter_once(live: LiveTrail, *, on: date) -> tuple[Contents, WinterList]:
    """The list of a day, made once a version, and the contents that it is of."""
    contents, notes = live.consistent(lambda trail: notes_of(trail, on=on))
    found: WinterList = contents.once(
        ("winter", on), lambda: winter_of(contents, on=on, notes=notes)
    )
    return contents, found
