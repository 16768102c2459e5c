"""Taking back a visit: a row that withdraws it; the visit itself stays in the file."""

from __future__ import annotations

import uuid
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Form
from starlette.concurrency import run_in_threadpool
from starlette.responses import RedirectResponse, Response

from layers.trail.store import Trail
from server.live.trail import LiveTrail
from server.visits.recording import record_in_turn
from server.web.authentication.author import Writing
from server.web.authentication.roles import WALKER
from server.web.responses import Live

router = APIRouter(include_in_schema=False)


@router.post("/visits/{visit_id}/withdraw", dependencies=[WALKER])
async def withdraw(
    live: Live, author: Writing, visit_id: str, withdrawal_id: Annotated[uuid.UUID, Form()]
) -> Response:
    """Withdraw a visit and show its box.

    Parameters
    ----------
    withdrawal_id
        Made with the page of the button, so that a second press withdraws nothing more.
    """
    visit = await run_in_threadpool(_visit, live, visit_id)
    raw = {
        "visit_id": str(withdrawal_id),
        "box": visit["box"],
        "date": visit["seen_on"],
        "replaces": visit_id,
        "withdraws": "yes",
    }
    await record_in_turn(live, raw, author=author)
    return RedirectResponse(f"/boxes/{quote(visit['box'], safe='')}?withdrawn={withdrawal_id}", 303)


def _visit(live: LiveTrail, visit_id: str) -> dict[str, Any]:
    with live.borrowed() as trail:
        return trail.visit(visit_id)


def withdrawn_visit(trail: Trail, visit_id: str) -> dict[str, Any]:
    """The visit of an id; of a row that withdraws, the visit that it withdraws."""
    visit = trail.visit(visit_id)
    while visit["withdraws"] == "yes" and visit["replaces"] is not None:
        visit = trail.visit(visit["replaces"])
    return visit
