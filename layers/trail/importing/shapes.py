"""Where a row is: by the shape of a feature, or by the cells of a plain table."""

from __future__ import annotations

from collections.abc import Mapping, Set
from types import MappingProxyType
from typing import Any, Literal

import numpy as np
import pyproj
import shapely
import shapely.geometry
from shapely.errors import ShapelyError
from shapely.geometry.base import BaseGeometry

from layers.errors import BadValue, Fault
from layers.trail.field import Geometry
from layers.trail.importing.cells import Cells, quoted, text
from layers.trail.importing.coordinates import Reprojector
from layers.trail.importing.source import Row, Table

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

_NAMES: Mapping[Geometry, tuple[str, str]] = {
    "POINT": ("Point", "a point"),
    "LINESTRING": ("LineString", "a line of two vertices or more"),
    "POLYGON": ("Polygon", "an area"),
}


def form_of(has: Set[str], *, system: pyproj.CRS | None) -> Form | None:
    """Which of the position columns that a plain table has are used; None if too few.

    Where a projected reference system was given, it is not for latitude and longitude.
    """
    if {"lat", "lon"} <= has and not (system is not None and system.is_projected):
        return "lat", "lon"
    if {"x", "y"} <= has:
        return "y", "x"
    return "geometry" if "geometry" in has else None


def missing_position(
    table: Table, form: Form | None, *, wanted: Geometry, crs_given: bool
) -> Fault | None:
    """Why the places of a file cannot be read; None if they can.

    `crs_given` is whether a person gave the reference system.
    """
    needed = "the reference system to be given, such as crs EPSG:27700"
    if table.shaped:
        if table.crs is None and not crs_given:
            return Fault(needed, "a file that does not state it", file=table.file)
    elif form is None:
        came = ", ".join(filter(None, table.header)) or "without names"
        expected = "a column geometry"
        if wanted == "POINT":
            expected = f"columns {'' if crs_given else 'lat and lon, '}x and y, or geometry"
        return Fault(expected, f"columns {came}", file=table.file)
    elif form != ("lat", "lon") and not crs_given:
        came = form if isinstance(form, str) else ", ".join(form)
        return Fault(needed, f"columns {came} without one", file=table.file)
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

    def __init__(self, form: Form | None, *, wanted: Geometry, reprojector: Reprojector) -> None:
        self._form = form
        self._wanted = wanted
        self._reprojector = reprojector

    def read(self, row: Row, cells: Cells) -> list[BaseGeometry]:
        """The shapes of a row in EPSG:4326; empty where a fault was noted."""
        if self._form is None or self._form == "geometry":
            return self._whole(row, cells)
        up, across = self._form
        y = cells.require(up, self._reprojector.reader("latitude"), expected="a place")
        x = cells.require(across, self._reprojector.reader("longitude"), expected="a place")
        if x is None or y is None:
            return []
        return self._in_wgs84([shapely.Point(x, y)], cells, f"{up}, {across}")

    def _whole(self, row: Row, cells: Cells) -> list[BaseGeometry]:
        shape = row.shape
        if self._form is not None:
            shape = cells.require("geometry", _well_known, expected="a shape")
            if shape is None:
                return []
        try:
            found = parts(shape, wanted=self._wanted)
        except BadValue as error:
            cells.fault(error.fault.expected, error.fault.came, "geometry")
            return []
        return self._in_wgs84(found, cells, "geometry")

    def _in_wgs84(
        self, shapes: list[BaseGeometry], cells: Cells, column: str
    ) -> list[BaseGeometry]:
        try:
            return [self._reprojector.reproject(shape) for shape in shapes]
        except BadValue as error:
            cells.fault(error.fault.expected, error.fault.came, column)
            return []


def shape_of(well_known_text: str) -> BaseGeometry:
    """The shape of a text; 1e999 and NaN are numbers here, and refused as places."""
    with np.errstate(over="ignore", invalid="ignore"):
        return shapely.from_wkt(well_known_text)


def _well_known(value: object) -> Mapping[str, Any]:
    try:
        shape = shape_of(text(value, most=_LONGEST_SHAPE))
    except (ShapelyError, NotImplementedError) as error:  # the latter for curves
        raise BadValue("a shape like POINT (-77.9 42.6)", quoted(value)) from error
    return dict(shapely.geometry.mapping(shape))


def parts(shape: Mapping[str, Any] | None, *, wanted: Geometry) -> list[BaseGeometry]:
    """The parts of a GeoJSON geometry, one for a plain shape, several for a multiple one.

    A part without any vertex is left out.

    Raises
    ------
    BadValue
        There is no shape, it is of another kind, or a part has too few vertices or an
        outline that crosses itself.
    """
    name, expected = _NAMES[wanted]
    if shape is None:
        raise BadValue(expected, "no shape")
    kind, coordinates = shape.get("type"), shape.get("coordinates", ())
    if kind == name:
        coordinates = [coordinates]
    elif kind != f"Multi{name}":
        raise BadValue(expected, f"a {kind}")
    try:
        found = [_part(name, vertices, expected) for vertices in coordinates if len(vertices)]
    except TypeError as error:
        raise BadValue(expected, f"a {kind} whose coordinates are no lists") from error
    if not found:
        raise BadValue(expected, f"an empty {kind}")
    return found


def _part(name: str, vertices: Any, expected: str) -> BaseGeometry:
    try:
        with np.errstate(over="ignore", invalid="ignore"):
            part = shapely.geometry.shape({"type": name, "coordinates": vertices})
    except (ShapelyError, ValueError, TypeError, IndexError) as error:
        came = f"{len(vertices)} vertices" if name == "LineString" else str(error)
        raise BadValue(expected, came.replace("1 vertices", "1 vertex")) from error
    if name == "LineString" and part.length == 0:
        raise BadValue(expected, "a line whose vertices are all the same")
    if name == "Polygon" and not shapely.is_valid(part):
        raise BadValue("an area with a sound outline", shapely.is_valid_reason(part))
    return part
