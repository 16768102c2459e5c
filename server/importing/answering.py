"""Pages of an import, which no cache keeps."""

from __future__ import annotations

from fastapi import Request
from starlette.responses import HTMLResponse

from layers.errors import BoxroundError, Refused
from server.web.problems import STATUS
from server.web.responses import rendered_for

_MAX_FAULTS = 50


def page_of(request: Request, template: str, **values: object) -> HTMLResponse:
    """A page by a template."""
    page = rendered_for(request, template, **values)
    return HTMLResponse(page, headers={"Cache-Control": "no-store"})


def page_of_file(
    request: Request, template: str, *, error: BoxroundError | None, **values: object
) -> HTMLResponse:
    """The page of one file, with what is wrong with it: a template below `import_file.html`."""
    page = page_of(
        request,
        template,
        refused=None if error is None else getattr(error, "summary", str(error)),
        faults=error.faults[:_MAX_FAULTS] if isinstance(error, Refused) else (),
        **values,
    )
    if error is not None:
        page.status_code = STATUS.get(type(error), 422)
    return page
