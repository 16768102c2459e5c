"""Pages that work without JavaScript: one box, all boxes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from itertools import groupby
from typing import Annotated, Any

from fastapi import APIRouter, FastAPI, Query, Request, Response
from pydantic import Field

from layers.maps.fragments import card_html
from layers.trail.settings import season_of
from server.boxes.view import box_states, card_of, occupancy_counts
from server.web.authentication.roles import Role, who
from server.web.base import base
from server.web.queries import AboutDay
from server.web.responses import Live, cached, cached_page, requested_day

router = APIRouter(include_in_schema=False)

BOXES_A_PAGE = 200


def mount(app: FastAPI) -> None:
    """Take the addresses below `/boxes/` that no other feature has: an id may hold a slash."""
    app.include_router(router)


class AboutList(AboutDay):
    page: Annotated[int, Field(ge=1)] = 1


class AboutOneBox(AboutDay):
    saved: str | None = None
    withdrawn: str | None = None


@router.get("/list")
def all_boxes(request: Request, live: Live, query: Annotated[AboutList, Query()]) -> Response:
    """Every box in a table."""
    contents, on = live.contents(), requested_day(live, query.on)
    pages = max(1, -(-len(contents.ground.boxes) // BOXES_A_PAGE))
    page = min(query.page, pages)
    shown = slice((page - 1) * BOXES_A_PAGE, page * BOXES_A_PAGE)
    values = {
        "on": on.isoformat(),
        "boxes": box_states(contents, on, rows=shown),
        "counts": occupancy_counts(contents, on),
        "page": page,
        "pages": pages,
    }
    return cached_page(request, contents, "list.html", values)


@router.get("/boxes/{box:path}/card")
def card_of_box(
    request: Request, live: Live, box: str, query: Annotated[AboutDay, Query()]
) -> Response:
    """The map's card of a box, as a part of a page."""
    contents, card = card_of(live, box, on=requested_day(live, query.on))
    recorded = "visits" in request.app.state.features
    body = card_html(card, linked=True, recorded=recorded, base=base()).encode()
    return cached(request, contents, body, media_type="text/html; charset=utf-8")


@router.get("/boxes/{box:path}")
def one_box(
    request: Request, live: Live, box: str, query: Annotated[AboutOneBox, Query()]
) -> Response:
    """All that is known of one box."""
    on = requested_day(live, query.on)
    contents, card = card_of(live, box, on=on)
    row = contents.ground.row(box)
    (state,) = box_states(contents, on, rows=slice(row, row + 1))
    values = {
        "card": card,
        "seasons": _by_season(card["visits"], starts=contents.settings.season_starts),
        "state": state,
        "on": on.isoformat(),
        "saved": query.saved is not None,
        "withdrawn": query.withdrawn,
        # Cached for keepers and walkers apart; see `server.web.response_cache`.
        "keeper": who(request).may(Role.KEEPER),
    }
    return cached_page(request, contents, "box.html", values)


def _by_season(
    visits: Iterable[Mapping[str, Any]], *, starts: str
) -> list[tuple[int, list[Mapping[str, Any]]]]:
    """Visits in the order given, by the season in which they were made."""

    def season(visit: Mapping[str, Any]) -> int:
        return season_of(date.fromisoformat(visit["date"]), starts)

    return [(number, list(made)) for number, made in groupby(visits, season)]
