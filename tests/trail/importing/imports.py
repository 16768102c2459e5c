"""What the tests of importing share: invented files, and a trail's whole content."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path
from typing import Any

from layers.errors import BadValue
from layers.trail.importing import ImportResult, Kind, VisitRules, import_file
from layers.trail.schema import TABLES
from layers.trail.store import Trail

TODAY = dt.date(2026, 6, 1)
KNOWN = ("eastern bluebird", "tree swallow", "house wren")


def species(name: str) -> str:
    """A stand-in for the guide: three birds, any case."""
    if name.casefold() in KNOWN:
        return name.casefold()
    raise BadValue(f"a species of the guide (nearest: {', '.join(KNOWN[:2])})", repr(name))


RULES = VisitRules(
    boxes=frozenset({"A1", "A2", "B1"}),
    words={"signs": ("flattened", "wet", "ants"), "actions": ("cleaned", "repaired")},
    species=species,
    today=TODAY,
    timezone="America/New_York",
)


def imported(kind: Kind, source: Path, trail: Trail, **asked: Any) -> ImportResult:
    return import_file(kind, source, trail, today=TODAY, species=species, **asked)


def content(trail: Trail) -> list[str]:
    """Everything a trail file holds, as SQL, and its version."""
    return [
        repr(row)
        for name in (*TABLES, "boxround_changes", "gpkg_contents")
        for row in trail.rows(f"SELECT * FROM {name} ORDER BY 1")
    ]


def written(path: Path, text: str, encoding: str = "utf-8") -> Path:
    path.write_bytes(text.encode(encoding))
    return path


def having(text: str) -> str:
    """A pattern for `pytest.raises` that finds the text as it stands."""
    return re.escape(text)
