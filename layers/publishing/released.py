"""The ground that the keeper released: generalised, and without the ends that lead to boxes.

All of it follows from the paths, places and zones alone. Were ends cut off only beside boxes,
the cut would show where these are.
"""

from __future__ import annotations

from collections import Counter
from typing import Any

import geopandas as gpd
import numpy as np
import shapely
import shapely.ops

from layers.publishing.values import Path, Place, Zone

DEAD_END_DEG = 0.002
"""Every dead end of a path is cut back by this, or as far as the next junction where that is
nearer: about 200 m, twice the usual distance between boxes (common practice, no source)."""

_LINE_DEG = 1e-4
"""Lines and areas are drawn with at most this departure: about 10 m."""

_POINT_DEG = 1e-3
"""Places are drawn to this: about 100 m."""

_GROUND_DEG = 1e-5
"""Corners are published to about a metre."""

PUBLIC_PLACES = ("start", "landmark")
PUBLIC_ZONES = ("habitat", "building", "water")


def public_paths(paths: gpd.GeoDataFrame) -> tuple[Path, ...]:
    """Paths open to all, cut back at their dead ends."""
    chosen = [
        (name, kind, shapely.force_2d(line))
        for name, kind, open_to, line in zip(
            paths["name"], paths["kind"], paths["open_to"], paths.geometry, strict=True
        )
        if open_to == "all" and line is not None and not line.is_empty
    ]
    lines = np.array([line for *_, line in chosen], object)
    ends = Counter(corner for line in lines for corner in (line.coords[0], line.coords[-1]))
    found = []
    for at, (name, kind, line) in enumerate(chosen):
        others = np.delete(lines, at)
        drawn = _drawn(_without_dead_ends(line, ends, others))
        if drawn is not None:
            found.append(Path(name, kind, drawn))
    return tuple(found)


def _without_dead_ends(line: Any, ends: Counter[Any], others: Any) -> Any:
    for turned in (False, True):
        if line.is_empty:
            break
        line = line.reverse() if turned else line
        end = shapely.Point(line.coords[0])
        joined = ends[line.coords[0]] > 1 or bool((shapely.distance(others, end) < 1e-9).any())
        if not joined:
            cut = _next_junction(line, others)
            line = shapely.ops.substring(line, min(cut, DEAD_END_DEG), line.length)
            line = line if line.geom_type == "LineString" else shapely.LineString()
    return line


def _next_junction(line: Any, others: Any) -> float:
    """How far along a line the next other one meets it."""
    meeting = shapely.get_parts(shapely.intersection(others, line))
    corners = shapely.points(shapely.get_coordinates(meeting))
    along = shapely.line_locate_point(line, corners)
    return float(np.min(along, initial=np.inf))


def public_places(places: gpd.GeoDataFrame) -> tuple[Place, ...]:
    """Starts and landmarks."""
    found = []
    for name, kind, point in zip(places["name"], places["kind"], places.geometry, strict=True):
        if kind in PUBLIC_PLACES and point is not None and not point.is_empty:
            lon, lat = (
                round(round(value / _POINT_DEG) * _POINT_DEG, 3) for value in point.coords[0][:2]
            )
            found.append(Place(name, kind, lon, lat))
    return tuple(found)


def public_zones(zones: gpd.GeoDataFrame) -> tuple[Zone, ...]:
    """Habitats, buildings and waters."""
    found = []
    for name, kind, area in zip(zones["name"], zones["kind"], zones.geometry, strict=True):
        drawn = _drawn(area) if kind in PUBLIC_ZONES else None
        if drawn is not None:
            found.append(Zone(name, kind, drawn))
    return tuple(found)


def _drawn(shape: Any) -> Any:
    if shape is None or shape.is_empty:
        return None
    simple = shapely.simplify(shapely.force_2d(shape), _LINE_DEG)
    return shapely.set_precision(simple, _GROUND_DEG, mode="pointwise")
