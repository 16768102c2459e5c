"""The history of a visit: each row that corrected or withdrew it, who entered it, and when."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, Response

from layers.errors import NotKnown
from layers.trail.schema import VISITS
from layers.trail.store import Trail
from server.web.authentication.author import the_team
from server.web.authentication.records import Entry
from server.web.authentication.roles import KEEPER_ONLY
from server.web.authentication.team import Team
from server.web.responses import Live, rendered_for

router = APIRouter(include_in_schema=False)

SHOWN = tuple(field for field in VISITS.fields if not field.automatic)
"""Columns of a visit, as they are shown."""


@router.get("/visits/{visit_id}/history", dependencies=[KEEPER_ONLY])
def history(request: Request, live: Live, visit_id: str) -> Response:
    """All that was ever recorded of one visit, oldest first."""
    contents, rows = live.consistent(lambda trail: rows_of(trail, visit_id))
    entries = _entries(the_team(request), [row["visit_id"] for row in rows])
    steps = [
        {
            "row": row,
            "by": entries[row["visit_id"]].person.name if row["visit_id"] in entries else None,
            "changed": changed(row, rows),
        }
        for row in rows
    ]
    page = rendered_for(
        request,
        "visit_history.html",
        trail=contents.settings,
        box=rows[-1]["box"],
        steps=steps,
        fields=SHOWN,
    )
    return HTMLResponse(page, headers={"Cache-Control": "no-store"})


def rows_of(trail: Trail, visit_id: str) -> list[dict[str, Any]]:
    """A visit with all that it corrects and all that corrects it, as they were entered.

    Raises
    ------
    NotKnown
        There is no visit of that id.
    """
    found = {visit_id: trail.visit(visit_id)}
    waiting = [visit_id]
    while waiting:
        row = found[waiting.pop()]
        near = trail.rows("SELECT visit_id FROM visits WHERE replaces = ?", (row["visit_id"],))
        for (other,) in [*near, (row["replaces"],)]:
            if other is None or other in found:
                continue
            try:
                found[other] = trail.visit(other)
            except NotKnown:
                # A desktop GIS can write a correction of nothing; boxround check reports it.
                continue
            waiting.append(other)
    return sorted(found.values(), key=lambda row: (row["entered_at"], row["visit_id"]))


def changed(row: dict[str, Any], rows: list[dict[str, Any]]) -> frozenset[str]:
    """Columns in which a row differs from the one that it corrects."""
    before = next((each for each in rows if each["visit_id"] == row["replaces"]), row)
    return frozenset(one.name for one in SHOWN if row[one.name] != before[one.name])


def _entries(team: Team, visit_ids: list[str]) -> dict[str, Entry]:
    try:
        with team.people() as people:
            return people.entries(visit_ids)
    except NotKnown:
        # No one was ever invited, so no author was recorded.
        return {}
