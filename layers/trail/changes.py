"""The log of changes that triggers write into a trail file, so that readers can catch up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

_ROWS_KEPT = 10_000
"""Changes that a reader may be behind before it must read everything anew."""

SINCE = "SELECT version, changed, box FROM boxround_changes WHERE version >= ?"

FORGET_OLD = (
    "DELETE FROM boxround_changes WHERE version <="
    f" (SELECT max(version) FROM boxround_changes) - {_ROWS_KEPT}"
)


@dataclass(frozen=True)
class Changes:
    """What changed since a version: names of `tables`, and `boxes` whose visits did.

    `everything` may have, where the log does not reach back to that version.
    """

    version: int
    tables: frozenset[str]
    boxes: frozenset[str]
    everything: bool

    @classmethod
    def of(cls, rows: Sequence[tuple[Any, ...]], *, since: int, now: int) -> Changes:
        """Changes from the rows that `SINCE` gives."""
        new = [row for row in rows if row[0] > since]
        # The row of `since` itself is gone where changes after it were dropped too,
        # or where an older copy of the file was put in its place.
        complete = since == now or len(new) < len(rows)
        visited = frozenset(box for _, table, box in new if table == "visits")
        return cls(now, frozenset(row[1] for row in new), visited, not complete)
