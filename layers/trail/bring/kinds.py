"""The kinds of things a file may hold: their columns, and what each row must say."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Any, Literal

from layers.trail.bring import background_rows, box_row, visit_row
from layers.trail.bring.cells import Cells

Kind = Literal["boxes", "visits", "paths", "places", "zones"]
KINDS: tuple[Kind, ...] = ("boxes", "visits", "paths", "places", "zones")

COLUMNS: Mapping[Kind, Mapping[str, tuple[str, ...]]] = MappingProxyType(
    {
        "boxes": box_row.COLUMNS,
        "visits": visit_row.COLUMNS,
        "paths": background_rows.PATH_COLUMNS,
        "places": background_rows.PLACE_COLUMNS,
        "zones": background_rows.ZONE_COLUMNS,
    }
)
"""Columns a person gives, each with other plain names for it."""

NEEDED: Mapping[Kind, tuple[str, ...]] = MappingProxyType(
    {"boxes": ("box",), "visits": ("box", "date")}
)

READERS: Mapping[Kind, Callable[[Cells], dict[str, Any]]] = MappingProxyType(
    {
        "paths": background_rows.read_path,
        "places": background_rows.read_place,
        "zones": background_rows.read_zone,
    }
)
"""Readers of rows that are checked against nothing but themselves."""
