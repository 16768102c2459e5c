"""The page of a file of boxes or paths: a sketch map, its questions, what it adds."""

from __future__ import annotations

from fastapi import Request
from starlette.responses import HTMLResponse

from layers.errors import BoxroundError, Refused
from layers.trail.importing import ImportResult
from layers.trail.importing.feature_import import import_features
from layers.trail.importing.proposing.features import FeatureProposal, propose_features
from layers.trail.importing.proposing.recipe import merged, remember, remembered
from server.importing.answering import page_of_file
from server.importing.drafts import Draft
from server.importing.printing import ONE, counted_text
from server.importing.sketch import placed_boxes, sketch_of
from server.importing.view import expect_as_shown, reading_of
from server.live.trail import LiveTrail


def feature_page(
    request: Request, live: LiveTrail, draft: Draft, *, error: BoxroundError | None = None
) -> HTMLResponse:
    """The file as it was read."""
    proposal: FeatureProposal | None = None
    result: ImportResult | None = None
    try:
        proposal = _understood(live, draft)
        if not proposal.questions and error is None:
            result = _import(live, proposal, dry_run=True)
    except Refused as refusal:
        error = refusal
    contents = live.contents()
    paths = contents.ground.paths
    clear = [] if proposal is None else [one for one in proposal.features if not one.open]
    adding = counted_text(draft.kind, {kind: sum(o.kind == kind for o in clear) for kind in ONE})
    return page_of_file(
        request,
        "import_features.html",
        error=error,
        trail=contents.settings,
        draft=draft,
        proposal=proposal,
        reading=None if proposal is None else reading_of(proposal),
        sketch=None
        if proposal is None
        else sketch_of(
            proposal,
            boxes=placed_boxes(live),
            paths=list(paths.geometry),
        ),
        counted=adding,
        adding=adding,
        unit="row",
        waiting=0 if proposal is None else len(proposal.features) - len(clear),
        result=result,
        ready=result is not None,
    )


def add_features(live: LiveTrail, draft: Draft, *, shown: str | None) -> ImportResult:
    """Add all of the file as the page showed it, or nothing and every reason."""
    proposal = _understood(live, draft)
    expect_as_shown(proposal, shown)
    result = _import(live, proposal, dry_run=False)
    with live.borrowed() as trail:
        remember(trail, draft.answers, draft.kind)
    return result


def counted_of(result: ImportResult) -> str:
    """What was added, in words."""
    return counted_text(result.kind, {result.kind: result.added, **result.beside})


def _understood(live: LiveTrail, draft: Draft) -> FeatureProposal:
    with live.borrowed() as trail:
        answers = merged(remembered(trail, draft.kind), draft.answers)
        return propose_features(draft.path, draft.kind, trail, answers=answers)


def _import(live: LiveTrail, proposal: FeatureProposal, *, dry_run: bool) -> ImportResult:
    with live.borrowed() as trail:
        return import_features(proposal, trail, today=live.today(), dry_run=dry_run)
