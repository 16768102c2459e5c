"""Takes back an import as a whole: a row that withdraws for each of its visits."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from layers.errors import NotKnown
from layers.trail.reading import CURRENT
from layers.trail.schema import VISITS
from layers.trail.store import Trail


@dataclass(frozen=True)
class Import:
    """One import: when it was, how many visits it added, and how many of them still hold."""

    id: str
    entered_at: str
    added: int
    current: int


def imports(trail: Trail) -> list[Import]:
    """The imports of a trail, the newest first."""
    rows = trail.rows(
        "SELECT import_id, max(entered_at), count(*),"
        f" sum(CASE WHEN {CURRENT} THEN 1 ELSE 0 END) FROM visits"
        " WHERE import_id NOTNULL GROUP BY import_id ORDER BY 2 DESC"
    )
    return [Import(*row) for row in rows]


def withdraw_import(
    trail: Trail,
    import_id: str,
    *,
    before_commit: Callable[[list[dict[str, Any]]], None] | None = None,
) -> int:
    """Withdraw every visit of an import that still holds; how many.

    A visit that was corrected since stays as corrected. Done again it changes nothing.

    Raises
    ------
    NotKnown
        There is no import of that id.
    """
    rows = trail.rows(
        f"SELECT box, seen_on, visit_id, {CURRENT} FROM visits WHERE import_id = ?", (import_id,)
    )
    if not rows:
        raise NotKnown(f"Expected the id of an import, got {import_id!r}")
    withdrawals = [_withdrawal(box, day, visit) for box, day, visit, holds in rows if holds]

    def settle() -> None:
        if before_commit is not None:
            before_commit(withdrawals)

    if withdrawals:
        trail.add_rows("visits", withdrawals, before_commit=settle)
    return len(withdrawals)


def _withdrawal(box: str, day: str, visit_id: str) -> dict[str, Any]:
    empty: Mapping[str, Any] = dict.fromkeys(VISITS.columns)
    # Made from the id of the visit, so that two who withdraw at once withdraw once.
    own_id = str(uuid.uuid5(uuid.UUID(visit_id), "withdrawn with its import"))
    return {
        **empty,
        "visit_id": own_id,
        "box": box,
        "seen_on": day,
        "replaces": visit_id,
        "withdraws": "yes",
    }
