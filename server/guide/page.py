"""The page that explains words, cautions and sources; works without JavaScript."""

from __future__ import annotations

import re

from fastapi import APIRouter, Request, Response

from layers.nesting.cautions import ALWAYS
from server.web.responses import Live, kept_page

router = APIRouter(include_in_schema=False)


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
