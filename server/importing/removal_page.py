"""The page on which a keeper removes boxes without visits, paths, places and zones."""

from __future__ import annotations

from fastapi import APIRouter, Request, Response
from starlette.concurrency import run_in_threadpool
from starlette.responses import HTMLResponse, RedirectResponse

from layers.errors import BadValue, CallerError
from layers.trail.removing import REMOVABLE, Removable, removable, remove
from server.importing.answering import page_of
from server.live.trail import LiveTrail
from server.web.authentication.roles import KEEPER_ONLY
from server.web.problems import STATUS
from server.web.responses import Live

router = APIRouter(include_in_schema=False, dependencies=[KEEPER_ONLY])

_MAX_FIELDS = 5000


@router.get("/import/remove")
def removal_page(request: Request, live: Live, removed: str | None = None) -> Response:
    """What may be removed, with a box to tick beside each."""
    return _page(request, live, removed=removed)


@router.post("/import/remove/{kind}")
async def remove_ticked(request: Request, live: Live, kind: Removable) -> Response:
    """Remove what was ticked: all of it, or nothing and the reason."""
    form = await request.form(max_fields=_MAX_FIELDS, max_files=0)
    ticked = [str(fid) for fid in form.getlist("fid")]

    def run() -> int:
        if not ticked or not all(fid.isdecimal() and len(fid) < 16 for fid in ticked):
            raise BadValue(f"{kind} to be ticked", "none" if not ticked else "something else")
        with live.borrowed() as trail:
            return remove(trail, kind, [int(fid) for fid in ticked])

    try:
        count = await run_in_threadpool(run)
    except CallerError as error:
        page = await run_in_threadpool(_page, request, live, refused=str(error))
        page.status_code = STATUS[type(error)]
        return page
    return RedirectResponse(f"/import/remove?removed={count}%20{kind}", 303)


def _page(
    request: Request, live: LiveTrail, *, removed: str | None = None, refused: str | None = None
) -> HTMLResponse:
    with live.borrowed() as trail:
        lists = {kind: removable(trail, kind) for kind in REMOVABLE}
    return page_of(
        request,
        "import_remove.html",
        trail=live.contents().settings,
        lists=lists,
        removed=removed,
        refused=refused,
    )
