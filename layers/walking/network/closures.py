"""Stretches of path inside a keep-out zone, which no round leads over."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from layers.walking.network.barriers import KEEP_OUT, Barrier
from layers.walking.network.lines import Line, Unused, usable
from layers.walking.network.plane import Plane
from layers.walking.network.tracks import TOLERANCE_M

Floats = NDArray[np.float64]


def outside_zones(
    lines: Sequence[Line], barriers: Sequence[Barrier]
) -> tuple[tuple[Line, ...], tuple[Unused, ...], tuple[str, ...]]:
    """The lines outside of keep-out zones, what of them is barred, and by which zones.

    A path less than `TOLERANCE_M` inside a zone runs along its edge and stays.
    """
    zones = [barrier for barrier in barriers if barrier.kind == KEEP_OUT]
    if not zones or not lines:
        return tuple(lines), (), ()
    plane = Plane.around(
        np.concatenate([line.lon for line in lines]), np.concatenate([line.lat for line in lines])
    )
    shapes = [_inner(zone, plane) for zone in zones]
    kept: list[Line] = []
    barred: list[Unused] = []
    barring: dict[str, None] = {}
    for line in lines:
        xy = plane.xy(line.lon, line.lat)
        shape, open_ = shapely.LineString(xy), not usable([line])[1]
        met = [number for number, zone in enumerate(shapes) if open_ and shape.intersects(zone)]
        kept += (
            _parts_outside(line, xy, shapely.union_all([shapes[n] for n in met])) if met else [line]
        )
        for number in met:
            inside_m = shape.intersection(shapes[number]).length
            words = zones[number].words
            barred.append(Unused(line.name, f"{inside_m:.0f} m of it lead through {words}"))
            barring[words] = None
    return tuple(kept), tuple(barred), tuple(barring)


def _inner(zone: Barrier, plane: Plane) -> BaseGeometry:
    """A zone on the plane without its edge; a narrow one as a whole."""
    whole = shapely.transform(shapely.make_valid(zone.shape), lambda at: plane.xy(*at.T))
    inner: BaseGeometry = shapely.buffer(whole, -TOLERANCE_M)
    return whole if inner.is_empty else inner


def _parts_outside(line: Line, xy: Floats, zone: BaseGeometry) -> list[Line]:
    """The stretches of a line outside of a zone, in its order."""
    stretches: list[tuple[float, float]] = []
    for step in range(len(xy) - 1):
        begin, along = xy[step], xy[step + 1] - xy[step]
        rest = shapely.LineString(xy[step : step + 2]).difference(zone)
        ends = []
        for part in shapely.get_parts(rest):
            at = (shapely.get_coordinates(part) - begin) @ along / (along @ along)
            if len(at) > 1:
                ends.append((step + float(at.min()), step + float(at.max())))
        for first, last in sorted(ends):
            if stretches and abs(stretches[-1][1] - first) < 1e-9:
                stretches[-1] = stretches[-1][0], last
            else:
                stretches.append((first, last))
    number = np.arange(len(xy))
    parts = []
    for first, last in stretches:
        at = np.r_[first, number[(number > first + 1e-9) & (number < last - 1e-9)], last]
        lon, lat, height_m = (
            np.interp(at, number, values) for values in (line.lon, line.lat, line.height_m)
        )
        parts.append(replace(line, lon=lon, lat=lat, height_m=height_m))
    return parts
