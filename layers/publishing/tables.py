"""The public tables: made from a `PublicView` alone, and the same wherever they are given out.

Files of `publish` and `/open`, exports, and the feature service all take their columns, names,
order and values from here.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from layers.errors import NotKnown
from layers.publishing.statements import NO_LICENCE
from layers.publishing.values import Cell, PublicView
from layers.trail.exporting.collection import TRAIL_ID, Collection, day_minute, in_memory
from layers.trail.field import Field, Geometry, column

CELL_FIELDS = (
    column("cell", "line", "permanent id of the cell: its middle and its size in degrees"),
    column("size_deg", "number", "width and height of the cell in degrees"),
    column("uncertainty_m", "whole", "metres from the point within which all of the cell is"),
    column("boxes", "whole", "nest boxes in the cell"),
    column("nested", "whole", "of these, boxes with a published nest this season"),
    column(
        "in_use",
        "whole",
        "of these, boxes with a nest not published yet; blank where that is withheld",
    ),
    column("nests", "whole", "published nests of all seasons"),
    column("species", "line", "species of these nests, joined by ;"),
    column("generalised", "line", "how the location was generalised"),
)
NEST_FIELDS = (
    column("nest", "uuid", "lasting identifier, unique among all trails"),
    column("cell", "line", "id of the cell it is in"),
    column("uncertainty_m", "whole", "metres from the point within which it is"),
    column("season", "whole", "year the season begins in"),
    column("species", "line", "common name as in the guide; blank where not recorded"),
    column("ended", "line", "month in which it ended"),
    column("fate", "line", "fledged (at least one young left), failed (none did), unknown"),
    column("eggs", "whole", "most eggs counted; blank where not counted or withheld"),
    column("young", "whole", "most living young counted; blank where not counted or withheld"),
    column("fledged", "whole", "young that left; blank where not known or withheld"),
)
GROUND_FIELDS = (
    column("name", "line", "what people call it"),
    column("kind", "line", "what it is"),
)

_UTC = ZoneInfo("UTC")


class PublicSource:
    """The public tables of one view."""

    def __init__(self, view: PublicView) -> None:
        self.view = view
        self._makers: dict[str, Callable[[], Collection]] = {
            "cells": self._cell_table,
            "nests": self._nest_table,
            "paths": lambda: self._ground_table(
                "paths", "LINESTRING", view.paths, [path.line for path in view.paths]
            ),
            "places": lambda: self._ground_table(
                "places",
                "POINT",
                view.places,
                [shapely.Point(place.lon, place.lat) for place in view.places],
            ),
            "zones": lambda: self._ground_table(
                "zones", "POLYGON", view.zones, [zone.area for zone in view.zones]
            ),
        }
        self._made: dict[str, Collection] = {}
        self.names = tuple(self._makers)
        self.title = view.trail
        self.statement = " ".join(view.statements)
        self.licence = view.licence or NO_LICENCE
        # No time zone: days are published by the month, and a zone would narrow a region down.
        self.of_trail = ((TRAIL_ID, view.identifier),)
        self._cells = {cell.cell: cell for cell in view.cells}

    @property
    def about(self) -> dict[str, Any]:
        """What a program may want to read beside a table."""
        view = self.view
        return {
            "season": view.season,
            "published_until": view.published_until.isoformat(),
            "generalised": view.generalised,
            "withheld": view.withheld,
        }

    def collection(self, name: str) -> Collection:
        if name not in self._makers:
            raise NotKnown(f"Expected one of {', '.join(self.names)}, got {name!r}")
        if name not in self._made:
            self._made[name] = self._makers[name]()
        return self._made[name]

    def cell(self, cell_id: str) -> Cell:
        """The cell of an id, as a published nest names it."""
        return self._cells[cell_id]

    @property
    def bounds(self) -> tuple[float, float, float, float] | None:
        """West, south, east, north of all cells; None where there are none."""
        if not self.view.cells:
            return None
        edges = np.array([cell.bounds for cell in self.view.cells])
        west, south = (float(edge) for edge in edges[:, :2].min(axis=0))
        east, north = (float(edge) for edge in edges[:, 2:].max(axis=0))
        return west, south, east, north

    @property
    def generalised(self) -> str:
        """What is published less exactly than it is known, joined as Darwin Core joins."""
        return " | ".join(self.view.generalised)

    @property
    def withheld(self) -> str:
        """What is not published, joined as Darwin Core joins."""
        return " | ".join(self.view.withheld)

    def _cell_table(self) -> Collection:
        cells = self.view.cells
        rows = [
            asdict(cell)
            | {
                "species": ";".join(cell.species) or None,
                "generalised": f"to a grid cell of {cell.size_deg:g} degrees",
            }
            for cell in cells
        ]
        return in_memory(
            _frame(rows, CELL_FIELDS),
            name="cells",
            title="Boxes by grid cell",
            note="Numbers of boxes in the cells of a fixed grid; the point is a cell's middle.",
            geometry="POINT",
            fields=CELL_FIELDS,
            zone=_UTC,
            ids=[cell.cell for cell in cells],
            shapes=_shapes([shapely.Point(cell.lon, cell.lat) for cell in cells]),
            key=("cell",),
            picked=("cell", "boxes", "nested", "nests"),
        )

    def _nest_table(self) -> Collection:
        nests = self.view.nests
        cells = [self._cells[nest.cell] for nest in nests]
        rows = [
            asdict(nest) | {"uncertainty_m": cell.uncertainty_m}
            for nest, cell in zip(nests, cells, strict=True)
        ]
        return in_memory(
            _frame(rows, NEST_FIELDS),
            name="nests",
            title="Nests",
            note="Finished nests, published after a delay, at the middle of their cell.",
            geometry="POINT",
            fields=NEST_FIELDS,
            zone=_UTC,
            ids=[nest.nest for nest in nests],
            shapes=_shapes([shapely.Point(cell.lon, cell.lat) for cell in cells]),
            since=np.array([day_minute(f"{nest.ended}-01") for nest in nests], np.int64),
            until=np.array([_month_end(nest.ended) for nest in nests], np.int64),
            key=("nest",),
            picked=("cell", "season", "species", "fate"),
        )

    def _ground_table(
        self, name: str, geometry: Geometry, things: Sequence[Any], shapes: Sequence[Any]
    ) -> Collection:
        rows = [{"name": thing.name, "kind": thing.kind} for thing in things]
        return in_memory(
            _frame(rows, GROUND_FIELDS),
            name=name,
            title=name.capitalize(),
            note=f"The {name} that the trail's keeper has released.",
            geometry=geometry,
            fields=GROUND_FIELDS,
            zone=_UTC,
            # Counted among the released ones: the file's own numbers would show how many are not.
            ids=list(range(1, len(rows) + 1)),
            shapes=_shapes(shapes),
            picked=("name", "kind"),
        )


def _frame(rows: Sequence[dict[str, Any]], fields: tuple[Field, ...]) -> pd.DataFrame:
    return pd.DataFrame(rows, columns=[column.name for column in fields], dtype=object)


def _shapes(shapes: Sequence[Any]) -> NDArray[Any]:
    filled = np.empty(len(shapes), object)
    filled[:] = shapes
    return filled


def _month_end(month: str) -> int:
    year, number = (int(part) for part in month.split("-"))
    following = f"{year + number // 12}-{number % 12 + 1:02d}-01"
    return day_minute(following) - 1
