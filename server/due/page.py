"""The page of what is due: by urgency or by section, to read, to walk and to print."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import date
from itertools import groupby
from typing import Annotated, Any, Literal
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request, Response
from pydantic import Field

from layers.nesting.cautions import ON_A_ROUND
from layers.nesting.due import APPROACHES, OPEN, URGENCIES, Due
from server.due.view import due_records, sections
from server.live.contents import Contents
from server.web.base import at
from server.web.queries import AboutDay
from server.web.responses import Live, cached_page, requested_day

router = APIRouter(include_in_schema=False)

BOXES_A_PAGE = 100
"""As many as one person looks at in some days, and a page that a phone still shows at once."""

NO_SECTION = "No section"
LEAVE = "Leave closed"
"""Heading of the boxes that need no visit and must not be opened."""


class AboutDuePage(AboutDay):
    by: Literal["urgency", "section"] = "urgency"
    page: Annotated[int, Field(ge=1)] = 1


@router.get("/due")
def due_page(request: Request, live: Live, query: Annotated[AboutDuePage, Query()]) -> Response:
    """Boxes that need a visit, why, until when, and how to approach them."""
    contents, on = live.contents(), requested_day(live, query.on)
    every = contents.due(on)
    listed = [(heading, one) for one in every if (heading := _heading(one)) is not None]
    if query.by == "section":
        named = sections(contents)
        listed = [(named.get(one.box) or NO_SECTION, one) for _, one in listed]
        # Stable, so that within a section the most urgent stay first.
        listed.sort(key=lambda pair: (pair[0] == NO_SECTION, pair[0]))
    pages = max(1, -(-len(listed) // BOXES_A_PAGE))
    page = min(query.page, pages)
    shown = listed[(page - 1) * BOXES_A_PAGE : page * BOXES_A_PAGE]
    values = {
        "on": on,
        "by": query.by,
        "groups": _groups(contents, shown, on=on),
        "sizes": Counter(heading for heading, _ in listed),
        "counts": _counts(every),
        "page": page,
        "pages": pages,
        "first": (page - 1) * BOXES_A_PAGE + 1,
        "shown": len(shown),
        "listed": len(listed),
        "link": lambda **more: _link(query, on, more),
        "cautions": ON_A_ROUND,
    }
    return cached_page(request, contents, "due.html", values)


def _heading(one: Due) -> str | None:
    """The heading of a box by urgency; None where it is not listed."""
    if one.due:
        return one.urgency.capitalize()
    return None if one.approach == OPEN else LEAVE


def _groups(
    contents: Contents, shown: Sequence[tuple[str, Due]], *, on: date
) -> list[tuple[str, list[dict[str, Any]]]]:
    return [
        (heading, due_records(contents, [one for _, one in pairs], on=on, everything=True))
        for heading, pairs in groupby(shown, key=lambda pair: pair[0])
    ]


def _counts(every: Sequence[Due]) -> dict[str, Any]:
    """How many boxes stand, are due, how urgently, and are not to be opened."""
    urgencies = Counter(one.urgency for one in every)
    approaches = Counter(one.approach for one in every)
    return {
        "stand": len(every),
        "due": sum(one.due for one in every),
        "urgencies": [(word, urgencies[word]) for word in URGENCIES[:-1] if urgencies[word]],
        "approaches": [(word, approaches[word]) for word in APPROACHES[1:] if approaches[word]],
    }


def _link(query: AboutDuePage, on: date, more: dict[str, Any]) -> str:
    """The address of this page with other parameters, on the same day."""
    given = {"on": on.isoformat()} if query.on is not None else {}
    given |= {"by": query.by} | more
    return at(f"/due?{urlencode(given)}")
