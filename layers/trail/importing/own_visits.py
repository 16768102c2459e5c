"""Visits that Boxround exported: the row that one corrects is not in the file, its place is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from layers.trail.importing.cells import is_blank
from layers.trail.importing.opening import open_table
from layers.trail.importing.source import Findings, Row
from layers.trail.importing.spool import Spool
from layers.trail.store import Trail

_OURS = frozenset({"visit_id", "seen_on", "entered_at", "replaces", "withdraws"})
NOT_KEPT = frozenset({"fid", "lon", "lat", "wkt", "trail", "timezone"})
"""Columns of an export that the trail holds elsewhere: the place is that of the box."""


def is_own_header(header: Sequence[str]) -> bool:
    """Whether a table has the columns that the program fills in by itself."""
    return set(header) >= _OURS


class OwnVisits:
    """Settles what a row of an export says of rows that the export leaves out.

    Parameters
    ----------
    source
        The file, which is read once more for the ids in it.
    """

    def __init__(self, source: Path, trail: Trail, *, spool: Spool, findings: Findings) -> None:
        self._trail = trail
        self._spool = spool
        self._findings = findings
        with open_table(source, kind="visits", progress=lambda done, total: None) as table:
            at = table.header.index("visit_id")
            for row in table.rows:
                if isinstance(row, Row) and at < len(row.cells):
                    spool.remember(f"file {str(row.cells[at]).strip().casefold()}", "")

    def settle(self, raw: Mapping[str, object], row: Row) -> dict[str, object]:
        """The row, without the id of a corrected one that neither file nor trail holds."""
        replaces = raw.get("replaces")
        if is_blank(replaces):
            return dict(raw)
        visit_id = str(replaces).strip().casefold()
        if self._spool.recall(f"file {visit_id}") is None and not self._trail.rows(
            "SELECT 1 FROM visits WHERE visit_id = ?", (visit_id,)
        ):
            self._findings.add_note(
                f"{row.file} row {row.number}: the visit that it corrects is not in the file;"
                " it was imported as a visit of its own"
            )
            return {**raw, "replaces": None}
        return dict(raw)
