"""The page that explains words, cautions and sources; works without JavaScript."""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType

from fastapi import APIRouter, Request, Response

from layers.errors import NotKnown
from layers.nesting.cautions import ALWAYS
from layers.nesting.dating import LEAST_NESTS, own_period_sentences
from server.web.responses import Live, cached_page

router = APIRouter(include_in_schema=False)

TOPICS: Mapping[str, str] = MappingProxyType(
    {
        "first-evening": "The first evening",
        "in-the-woods": "In the woods",
        "on-a-server": "Phones of helpers, and a server",
        "backups": "Backups, and a damaged file",
        "sharing": "Show the trail to the public",
        "spreadsheets": "Your own spreadsheet",
        "numbers": "What each number means",
    }
)
"""Pages of help: name in the address -> title. Each has a template of its own."""


@router.get("/help")
def help_page(request: Request, live: Live) -> Response:
    """What the words mean, and what to mind."""
    contents = live.contents()
    sources = [
        (key, source.citation, source.memory)
        for key, source in sorted(contents.guide.sources.items())
        if not re.fullmatch(r"computed", key)
    ]
    values = {
        "cautions": ALWAYS,
        "sources": sources,
        "topics": TOPICS,
        "own_periods": own_period_sentences(contents.guide),
        "least_nests": LEAST_NESTS,
    }
    return cached_page(request, contents, "help.html", values)


@router.get("/help/{name}")
def help_topic(request: Request, live: Live, name: str) -> Response:
    """One of `TOPICS`."""
    if name not in TOPICS:
        raise NotKnown(f"Expected a page of help ({', '.join(TOPICS)}), got {name}")
    template = f"help_{name.replace('-', '_')}.html"
    return cached_page(request, live.contents(), template, {"name": name, "topics": TOPICS})
