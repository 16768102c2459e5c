"""The page on which a keeper hands in a file of visits, answers its questions, and adds it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import get_args
from urllib.parse import quote

from anyio import to_thread
from fastapi import APIRouter, Request, Response
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.responses import HTMLResponse, RedirectResponse

from layers.errors import BadValue, BoxroundError, CallerError, Refused
from layers.trail.importing import Ask, ImportResult, import_proposal
from layers.trail.importing.own_visits import is_own_header
from layers.trail.importing.proposing import Proposal, read_grids
from layers.trail.importing.proposing.grids import Sheets
from layers.trail.importing.proposing.recipe import checked_answers, remember
from layers.trail.importing.source import refused
from layers.trail.importing.withdrawing import imports, withdraw_import
from server.importing.answering import page_of, page_of_file
from server.importing.drafts import Draft, Drafts, HandedIn
from server.importing.feature_page import add_features, counted_of, feature_page
from server.importing.plausibility import NestsMade, asking
from server.importing.sketch import placed_boxes, sketch_of_visits
from server.importing.understanding import understand_sheets
from server.importing.view import adds_of, answers_of, expect_as_shown, reading_of, sheets_of
from server.live.clock import utc_now
from server.live.trail import LiveTrail
from server.web.authentication.author import Author, Writing
from server.web.authentication.roles import KEEPER_ONLY
from server.web.problems import STATUS
from server.web.responses import Live

router = APIRouter(include_in_schema=False, dependencies=[KEEPER_ONLY])

HANDED_IN: tuple[HandedIn, ...] = get_args(HandedIn)
_MAX_FIELDS = 500


@router.get("/import")
def import_page(
    request: Request,
    live: Live,
    added: str | None = None,
    withdrawn: int | None = None,
    counted: str | None = None,
) -> Response:
    """Files that wait, imports that can be taken back, and the form for a new file."""
    return _start(request, live, added=added, withdrawn=withdrawn, counted=counted)


def _start(
    request: Request,
    live: LiveTrail,
    *,
    added: str | None = None,
    withdrawn: int | None = None,
    refused: str | None = None,
    counted: str | None = None,
) -> HTMLResponse:
    contents, past = live.consistent(imports)
    return page_of(
        request,
        "import.html",
        trail=contents.settings,
        drafts=list(Drafts(live.path).all()),
        imports=past,
        added=added,
        withdrawn=withdrawn,
        refused=refused,
        counted=counted,
    )


@router.post("/import")
async def hand_in(request: Request, live: Live) -> Response:
    """Keep a file, and show what it was read as."""
    try:
        async with request.form(max_files=1, max_fields=5) as form:
            file = form.get("file")
            if not isinstance(file, UploadFile):
                raise BadValue("a file to be chosen", "none", column="file")
            named = form.get("kind") or "visits"
            kind = next((one for one in HANDED_IN if one == named), None)
            if kind is None:
                raise BadValue(f"one of {', '.join(HANDED_IN)}", repr(named), column="kind")
            content, name = await file.read(), file.filename or ""
        draft = await run_in_threadpool(Drafts(live.path).add, name, content, kind)
    except CallerError as error:
        page = await run_in_threadpool(_start, request, live, refused=str(error))
        page.status_code = STATUS[type(error)]
        return page
    return RedirectResponse(f"/import/{draft.id}", 303)


@router.get("/import/{draft_id}")
def draft_page(request: Request, live: Live, draft_id: str) -> Response:
    """A file as it was read, and its questions."""
    return _draft(request, live, draft_id)


def _draft(
    request: Request, live: LiveTrail, draft_id: str, *, error: BoxroundError | None = None
) -> HTMLResponse:
    draft = Drafts(live.path).get(draft_id)
    if draft.kind != "visits":
        return feature_page(request, live, draft, error=error)
    try:
        sheets, proposal = _understood(live, draft)
    except Refused as refusal:
        sheets, proposal, error = Sheets(()), None, refusal
    result: ImportResult | None = None
    made: NestsMade | None = None
    contents = live.contents()
    if proposal is not None and proposal.records and not proposal.questions and error is None:
        try:
            with live.borrowed() as trail:
                made = NestsMade(contents, asking(trail, contents.guide))
            result = _import(live, proposal, dry_run=True, ask=made)
        except Refused as refusal:
            error = refusal
    adds = None if proposal is None else adds_of(proposal)
    visits = adds.visits if adds else 0
    return page_of_file(
        request,
        "import_visits.html",
        error=error,
        trail=contents.settings,
        draft=draft,
        proposal=proposal,
        reading=None if proposal is None else reading_of(proposal),
        sketch=sketch_of_visits(placed_boxes(live), visited=set(adds.boxes)) if adds else None,
        nests=None if result is None or made is None else made.count,
        sheets=[] if proposal is None else sheets_of(sheets, proposal),
        adds=adds,
        counted=f"{visits} visits to {len(adds.boxes) if adds else 0} boxes",
        adding=f"{visits} visits",
        waiting=adds.waiting if adds else 0,
        unit="cell",
        ready=visits and proposal is not None and not proposal.questions,
        result=result,
    )


def _understood(live: LiveTrail, draft: Draft) -> tuple[Sheets, Proposal]:
    contents = live.contents()
    sheets = read_grids(draft.path)
    if any(
        is_own_header([str(cell) for cell in grid.rows[0]]) for grid in sheets.grids if grid.rows
    ):
        command = f"boxround add visits {draft.name} {live.path.name}"
        raise refused(draft.name, f"the command {command} for it", "an export of Boxround")
    with live.borrowed() as trail:
        proposal = understand_sheets(
            sheets,
            trail,
            contents.guide,
            today=live.today(),
            answers=draft.answers,
            name=draft.name,
        )
    return sheets, proposal


@router.post("/import/{draft_id}/answers")
async def answer(request: Request, live: Live, draft_id: str) -> Response:
    """Keep answers, and show the file as it is read with them."""
    form = await request.form(max_fields=_MAX_FIELDS, max_files=0)
    fields = [(name, str(value)) for name, value in form.multi_items()]
    try:
        kind = (await run_in_threadpool(Drafts(live.path).get, draft_id)).kind
        answers = checked_answers(answers_of(fields), where="the form", kind=kind)
        await run_in_threadpool(Drafts(live.path).answer, draft_id, answers)
    except BadValue as error:
        return await run_in_threadpool(_draft, request, live, draft_id, error=error)
    return RedirectResponse(f"/import/{draft_id}", 303)


@router.post("/import/{draft_id}/add")
async def add(request: Request, live: Live, author: Writing, draft_id: str) -> Response:
    """Add all of the file as the page showed it, or nothing and every reason."""
    form = await request.form(max_fields=5, max_files=0)
    shown = None if (reading := form.get("reading")) is None else str(reading)
    draft = await run_in_threadpool(Drafts(live.path).get, draft_id)

    def run() -> ImportResult:
        if draft.kind != "visits":
            return add_features(live, draft, shown=shown)
        return _add(live, draft, author, shown=shown)

    try:
        result = await to_thread.run_sync(run, limiter=live.savers)
    except CallerError as error:
        return await run_in_threadpool(_draft, request, live, draft_id, error=error)
    await run_in_threadpool(Drafts(live.path).remove, draft_id)
    if result.added and draft.kind != "visits":
        return RedirectResponse(f"/import?counted={quote(counted_of(result))}", 303)
    return RedirectResponse(f"/import?added={result.import_id or 'nothing'}", 303)


def _add(live: LiveTrail, draft: Draft, author: Author, *, shown: str | None) -> ImportResult:
    _, proposal = _understood(live, draft)
    expect_as_shown(proposal, shown)
    now = utc_now()
    # Who entered a visit is on disk before the visit is.
    result = _import(live, proposal, before_commit=lambda ids: _note(author, ids, now))
    with live.borrowed() as trail:
        remember(trail, draft.answers)
    return result


def _import(
    live: LiveTrail,
    proposal: Proposal,
    *,
    dry_run: bool = False,
    ask: Ask | None = None,
    before_commit: Callable[[list[str]], None] | None = None,
) -> ImportResult:
    guide = live.contents().guide
    with live.borrowed() as trail:
        return import_proposal(
            proposal,
            trail,
            today=live.today(),
            species=lambda name: guide.find(name).common,
            ask=ask or asking(trail, guide),
            dry_run=dry_run,
            before_commit=before_commit,
        )


@router.post("/import/{draft_id}/remove")
def remove(live: Live, draft_id: str) -> Response:
    """Remove a file that waits; the trail does not change."""
    Drafts(live.path).remove(draft_id)
    return RedirectResponse("/import", 303)


@router.post("/imports/{import_id}/withdraw")
async def take_back(live: Live, author: Writing, import_id: str) -> Response:
    """Withdraw all visits of an import that still hold."""
    now = utc_now()

    def run() -> int:
        with live.borrowed() as trail:
            return withdraw_import(
                trail,
                import_id,
                before_commit=lambda rows: _note(author, [row["visit_id"] for row in rows], now),
            )

    count = await to_thread.run_sync(run, limiter=live.savers)
    return RedirectResponse(f"/import?withdrawn={count}", 303)


def _note(author: Author, ids: list[str], now: datetime) -> None:
    for visit_id in ids:
        author.enter(visit_id, now=now)
