"""Pages that work without JavaScript: one box, all boxes, help."""

from __future__ import annotations

import re
from collections import Counter
from typing import Annotated

from fastapi import APIRouter, Query, Request, Response
from pydantic import Field

from layers.nesting.cautions import ALWAYS
from layers.trail.words import OCCUPANCY
from server.answers import Live, day_asked, kept_page
from server.api.questions import AboutDay
from server.cards import card_of
from server.states import box_states

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
    states = contents.once(("states", on), lambda: box_states(contents, on))
    counts = Counter(state["occupancy"] for state in states)
    pages = max(1, -(-len(states) // BOXES_A_PAGE))
    page = min(asked.page, pages)
    values = {
        "on": on.isoformat(),
        "boxes": states[(page - 1) * BOXES_A_PAGE : page * BOXES_A_PAGE],
        "counts": [(word, counts[word]) for word in OCCUPANCY if counts[word]],
        "page": page,
        "pages": pages,
    }
    return kept_page(request, contents, "list.html", values)


@router.get("/boxes/{box}")
def one_box(
    request: Request, live: Live, box: str, asked: Annotated[AboutOneBox, Query()]
) -> Response:
    """All there is to tell about one box."""
    on = day_asked(live, asked.on)
    contents, card = card_of(live, box, on=on)
    states = contents.once(("states", on), lambda: box_states(contents, on))
    values = {
        "card": card,
        "state": states[contents.ground.row(box)],
        "on": on,
        "saved": asked.saved is not None,
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
