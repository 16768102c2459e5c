"""Vertices that no walk has: at 0, 0, leaps away and back, heights that cannot be."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from pyproj import Geod

from layers.trail.importing.coordinates import HIGHEST_M, LOWEST_M, SPIKE_M

_GEOD = Geod(ellps="WGS84")


def repaired(shape: Mapping[str, Any]) -> Mapping[str, Any] | None:
    """A line of longitude and latitude without such vertices; None where too few are left."""
    several = shape["type"] == "MultiLineString"
    lines = shape["coordinates"] if several else [shape["coordinates"]]
    kept = [line for line in map(_walked, lines) if len(line) > 1]
    if not kept:
        return None
    return {"type": "MultiLineString", "coordinates": kept}


def _walked(line: Sequence[Sequence[float]]) -> list[tuple[float, ...]]:
    vertices = [tuple(map(float, vertex)) for vertex in line]
    heights = [vertex[2] for vertex in vertices if len(vertex) > 2]
    if not all(LOWEST_M <= height <= HIGHEST_M for height in heights):
        vertices = [vertex[:2] for vertex in vertices]
    vertices = [v for v in vertices if v[:2] != (0, 0) and all(np.isfinite(v))]
    kept: list[tuple[float, ...]] = []
    for at, vertex in enumerate(vertices):
        # Away from the last sound one, and the next is near that again.
        if kept and at + 1 < len(vertices) and _apart_m(kept[-1], vertex) > SPIKE_M:
            back = _apart_m(kept[-1], vertices[at + 1])
            if back < SPIKE_M / 10:
                continue
        kept.append(vertex)
    return kept


def _apart_m(one: Sequence[float], other: Sequence[float]) -> float:
    if max(abs(one[1]), abs(other[1])) > 90:
        return float("inf")
    return float(_GEOD.inv(one[0], one[1], other[0], other[1])[2])
