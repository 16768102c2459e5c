"""Pages that work without JavaScript: one box, all boxes, help."""

from __future__ import annotations

import re
from typing import Annotated

from fastapi import APIRouter, Query, Request, Response
from pydantic import Field

from layers.nesting.cautions import ALWAYS
from server.answers.kept import Live, day_asked, kept_page
from server.api.questions import AboutDay
from server.people.roles import Role, who
from server.told.cards import card_of
from server.told.states import box_states, occupancy_counts

router = APIRouter(include_in_schema=False)

BOXES_A_PAGE = 200


class AboutList(AboutDay):
    page: Annotated[int, Field(ge=1)] = 1


class AboutOneBox(AboutDay):
    saved: str | None = None


@router.get("/list")
def all_boxes(request: Request, live: Live, asked: Annotated[AboutList, Query()]) -> Response:
    """Every box in a table."""
    contents, on = live.contents(), day_asked(live, asked.on)
    pages = max(1, -(-len(contents.ground.boxes) // BOXES_A_PAGE))
    page = min(asked.page, pages)
    shown = slice((page - 1) * BOXES_A_PAGE, page * BOXES_A_PAGE)
    values = {
        "on": on.isoformat(),
        "boxes": box_states(contents, on, rows=shown),
        "counts": occupancy_counts(contents, on),
        "page": page,
        "pages": pages,
    }
    return kept_page(request, contents, "list.html", values)


@router.get("/boxes/{box:path}")
def one_box(
    request: Request, live: Live, box: str, asked: Annotated[AboutOneBox, Query()]
) -> Response:
    """All there is to tell about one box."""
    on = day_asked(live, asked.on)
    contents, card = card_of(live, box, on=on)
    row = contents.ground.row(box)
    (state,) = box_states(contents, on, rows=slice(row, row + 1))
    values = {
        "card": card,
        "state": state,
        "on": on,
        "saved": asked.saved is not None,
        # Kept for keepers and walkers apart; see `server.front.hot`.
        "keeper": who(request).may(Role.KEEPER),
    }
    return kept_page(request, contents, "box.html", values)


@router.get("/help")
def help_page(request: Request, live: Live) -> Response:
    """What the words mean, and what to mind."""
    contents = live.contents()
    sources = [
        (key, source.citation, source.memory)
        for key, source in sorted(contents.guide.sources.items())
        if not re.fullmatch(r"computed", key)
    ]
    values = {"cautions": ALWAYS, "sources": sources}
    return kept_page(request, contents, "help.html", values)
