"""Paths, places and zones from raw cells to clean rows: what boxes stand among."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from types import MappingProxyType
from typing import Any

from layers.trail.bring import values
from layers.trail.bring.cells import Cells
from layers.trail.words import OPEN_TO, PLACE_KINDS, ZONE_KINDS

PATH_COLUMNS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {"name": ("path",), "kind": (), "open_to": ("open",), "level": ()}
)
PLACE_COLUMNS: Mapping[str, tuple[str, ...]] = MappingProxyType({"name": ("place",), "kind": ()})
ZONE_COLUMNS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "name": ("zone",),
        "kind": (),
        "detail": ("details", "desc", "description", "note", "notes"),
    }
)
"""Columns a person gives, each with other plain names for it."""


def read_path(cells: Cells) -> dict[str, Any]:
    """The columns of a path; faults are noted in `cells`."""
    return {
        "name": cells.take("name", values.line),
        "kind": cells.take("kind", values.line),
        "open_to": cells.take("open_to", partial(values.word, column="open_to", known=OPEN_TO)),
        "level": cells.take("level", partial(values.count, least=-9, most=9)),
    }


def read_place(cells: Cells) -> dict[str, Any]:
    """The columns of a place; faults are noted in `cells`."""
    return {
        "name": cells.take("name", values.line),
        "kind": cells.take("kind", partial(values.word, column="kind", known=PLACE_KINDS)),
    }


def read_zone(cells: Cells) -> dict[str, Any]:
    """The columns of a zone; faults are noted in `cells`."""
    return {
        "name": cells.take("name", values.line),
        "kind": cells.take("kind", partial(values.word, column="kind", known=ZONE_KINDS)),
        "detail": cells.take("detail", values.text),
    }
