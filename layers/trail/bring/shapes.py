"""The single shapes that a feature or a row of a table stands for."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import shapely
import shapely.geometry
from shapely.errors import ShapelyError
from shapely.geometry.base import BaseGeometry

from layers.errors import BadValue
from layers.trail.field import Geometry

_NAMES: Mapping[Geometry, tuple[str, str]] = {
    "POINT": ("Point", "a point"),
    "LINESTRING": ("LineString", "a line of two vertices or more"),
    "POLYGON": ("Polygon", "an area"),
}


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
        part = shapely.geometry.shape({"type": name, "coordinates": vertices})
    except (ShapelyError, ValueError, TypeError, IndexError) as error:
        came = f"{len(vertices)} vertices" if name == "LineString" else str(error)
        raise BadValue(expected, came.replace("1 vertices", "1 vertex")) from error
    if name == "LineString" and part.length == 0:
        raise BadValue(expected, "a line whose vertices are all the same")
    if name == "Polygon" and not shapely.is_valid(part):
        raise BadValue("an area with a sound outline", shapely.is_valid_reason(part))
    return part
