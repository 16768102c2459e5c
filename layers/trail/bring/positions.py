"""Where a row is: by the shape of a feature, or by the cells of a plain table."""

from __future__ import annotations

from collections.abc import Mapping, Set
from types import MappingProxyType
from typing import Any, Literal

import pyproj
import shapely
import shapely.geometry
from shapely.errors import ShapelyError
from shapely.geometry.base import BaseGeometry

from layers.errors import BadValue, Fault
from layers.trail.bring.cells import Cells
from layers.trail.bring.placing import Placer
from layers.trail.bring.shapes import parts
from layers.trail.bring.source import Row, Table
from layers.trail.bring.values import said, text
from layers.trail.field import Geometry

AS_SHAPE: Mapping[str, tuple[str, ...]] = MappingProxyType({"geometry": ("geom", "wkt")})
"""The column of a plain table that holds a shape as well-known text (OGC 06-103r4)."""

AS_POINT: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "lat": ("latitude",),
        "lon": ("longitude", "long", "lng"),
        "x": ("easting", "eastings"),
        "y": ("northing", "northings"),
    }
)
"""Columns of a plain table that hold a point."""

_LONGEST_SHAPE = 100_000_000

Form = tuple[str, str] | Literal["geometry"]
"""The columns of a plain table that are used: north before east, as people type them."""


def form_of(has: Set[str], *, system: pyproj.CRS | None) -> Form | None:
    """Which of the position columns that a plain table has are used; None if too few.

    Where a projected reference system was told, latitude and longitude are not what it
    was told for.
    """
    if {"lat", "lon"} <= has and not (system is not None and system.is_projected):
        return "lat", "lon"
    if {"x", "y"} <= has:
        return "y", "x"
    return "geometry" if "geometry" in has else None


def lacking(table: Table, form: Form | None, *, wanted: Geometry, told: bool) -> Fault | None:
    """What of a whole file keeps places from being read; None if nothing does.

    `told` says whether a person told the reference system.
    """
    ask = "to be told the reference system, like crs EPSG:27700"
    if table.shaped:
        if table.crs is None and not told:
            return Fault(ask, "a file that does not state it", file=table.file)
    elif form is None:
        came = ", ".join(filter(None, table.header)) or "without names"
        expected = "a column geometry"
        if wanted == "POINT":
            expected = f"columns {'' if told else 'lat and lon, '}x and y, or geometry"
        return Fault(expected, f"columns {came}", file=table.file)
    elif form != ("lat", "lon") and not told:
        came = form if isinstance(form, str) else ", ".join(form)
        return Fault(ask, f"columns {came} without one", file=table.file)
    return None


class Positions:
    """Reads where the rows of one file are.

    Parameters
    ----------
    form
        The columns of a plain table that are used; None where rows carry shapes.
    wanted
        The kind of shape.
    """

    def __init__(self, form: Form | None, *, wanted: Geometry, placer: Placer) -> None:
        self._form = form
        self._wanted = wanted
        self._placer = placer

    def read(self, row: Row, cells: Cells) -> list[BaseGeometry]:
        """The shapes of a row in EPSG:4326; empty where a fault was noted."""
        if self._form is None or self._form == "geometry":
            return self._whole(row, cells)
        up, across = self._form
        y = cells.need(up, self._placer.reader("latitude"), expected="a place")
        x = cells.need(across, self._placer.reader("longitude"), expected="a place")
        if x is None or y is None:
            return []
        return self._placed([shapely.Point(x, y)], cells, f"{up}, {across}")

    def _whole(self, row: Row, cells: Cells) -> list[BaseGeometry]:
        shape = row.shape
        if self._form is not None:
            shape = cells.need("geometry", _well_known, expected="a shape")
            if shape is None:
                return []
        try:
            found = parts(shape, wanted=self._wanted)
        except BadValue as error:
            cells.fault(error.fault.expected, error.fault.came, "geometry")
            return []
        return self._placed(found, cells, "geometry")

    def _placed(self, shapes: list[BaseGeometry], cells: Cells, column: str) -> list[BaseGeometry]:
        try:
            return [self._placer.place(shape) for shape in shapes]
        except BadValue as error:
            cells.fault(error.fault.expected, error.fault.came, column)
            return []


def _well_known(value: object) -> Mapping[str, Any]:
    try:
        shape = shapely.from_wkt(text(value, most=_LONGEST_SHAPE))
    except (ShapelyError, NotImplementedError) as error:  # the latter for curves
        raise BadValue("a shape like POINT (-77.9 42.6)", said(value)) from error
    return dict(shapely.geometry.mapping(shape))
