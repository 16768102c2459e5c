"""A page of an import, which no cache keeps."""

from __future__ import annotations

from fastapi import Request
from starlette.responses import HTMLResponse

from server.web.responses import rendered_for


def page_of(request: Request, template: str, **values: object) -> HTMLResponse:
    """A page by a template."""
    page = rendered_for(request, template, **values)
    return HTMLResponse(page, headers={"Cache-Control": "no-store"})
