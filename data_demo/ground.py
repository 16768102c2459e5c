"""The ground of the invented reserve: a metre grid, heights, and lines drawn by hand.

Positions are metres east and north of the middle of the reserve.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from pyproj import Transformer
from scipy.interpolate import CubicSpline

CENTRE_LON, CENTRE_LAT = -77.9, 42.6
"""Farmland; nothing that the demo shows is there."""

BRIDGE_XY = (228.0, 148.0)
"""Where the footbridge passes over the sunken lane."""

_TO_WGS84 = Transformer.from_crs(
    f"+proj=aeqd +lat_0={CENTRE_LAT} +lon_0={CENTRE_LON} +datum=WGS84 +units=m",
    "EPSG:4326",
    always_xy=True,
)

# Hills and hollows: east, north, height and reach, all in metres.
_HILLS = (
    (430.0, 430.0, 34.0, 330.0),
    (-520.0, 380.0, 18.0, 260.0),
    (-230.0, -140.0, -9.0, 240.0),
    (520.0, -420.0, 12.0, 260.0),
    (60.0, 330.0, -8.0, 110.0),
)
_LOWEST_M = 412.0
_LANE_SUNK_M = 5.0
_LANE_SUNK_REACH_M = 70.0

# A drawn line carries a point about this often, and leaves the smooth curve by so much.
_POINT_EVERY_M = 9.0
_WOBBLE_M = 1.4


def height_m(xy: NDArray[Any]) -> NDArray[np.float64]:
    """Height of the ground at positions of shape (n, 2)."""
    x, y = xy[:, 0], xy[:, 1]
    height = _LOWEST_M + 0.012 * (y + 520) + 1.2 * np.sin(x / 95) * np.cos(y / 120)
    for east, north, top, reach in _HILLS:
        height = height + top * np.exp(-((x - east) ** 2 + (y - north) ** 2) / (2 * reach**2))
    return np.asarray(height, np.float64)


def sunken_m(xy: NDArray[Any]) -> NDArray[np.float64]:
    """How far the lane has cut into the ground at positions on it."""
    away = np.hypot(xy[:, 0] - BRIDGE_XY[0], xy[:, 1] - BRIDGE_XY[1])
    return np.asarray(_LANE_SUNK_M * np.exp(-((away / _LANE_SUNK_REACH_M) ** 2)), np.float64)


def drawn(
    corners: Sequence[tuple[float, float]], *, random: np.random.Generator, ring: bool = False
) -> NDArray[np.float64]:
    """A curve through corners as a hand draws it: shape (n, 2), ends exact.

    `ring` joins the last corner to the first.
    """
    points = np.array([*corners, *(corners[:1] if ring else [])], np.float64)
    # Parameter by the root of the chord: no loops where corners lie close together.
    knots = np.r_[0.0, np.cumsum(np.sqrt(np.hypot(*np.diff(points, axis=0).T)))]
    spline = CubicSpline(knots, points, bc_type="periodic" if ring else "natural")
    fine = spline(np.linspace(0.0, knots[-1], 40 * len(points)))
    along = np.r_[0.0, np.cumsum(np.hypot(*np.diff(fine, axis=0).T))]
    count = max(3, round(along[-1] / _POINT_EVERY_M))
    at = np.linspace(0.0, along[-1], count)
    at[1:-1] += random.uniform(-0.3, 0.3, count - 2) * _POINT_EVERY_M
    line = np.column_stack([np.interp(at, along, fine[:, i]) for i in (0, 1)])
    return line + _wobble(line, at, random)


def _wobble(
    line: NDArray[Any], at: NDArray[Any], random: np.random.Generator
) -> NDArray[np.float64]:
    """Sideways steps of a hand that is not quite steady; none at the ends."""
    waves = [
        size * random.normal() * np.sin(2 * np.pi * at / length_m + random.uniform(0.0, 6.3))
        for length_m, size in ((150.0, 1.0), (80.0, 0.8), (43.0, 0.35), (24.0, 0.12))
    ]
    sideways = _WOBBLE_M * np.sum(waves, axis=0) * np.clip(np.minimum(at, at[-1] - at) / 30, 0, 1)
    forward = np.gradient(line, axis=0)
    normal = np.column_stack([-forward[:, 1], forward[:, 0]])
    steps = normal / np.hypot(*normal.T)[:, None] * sideways[:, None]
    return np.asarray(steps, np.float64)


def to_wgs84(shape: shapely.Geometry) -> shapely.Geometry:
    """A shape in EPSG:4326 with seven decimals, about a centimetre; heights are kept."""

    def moved(xyz: NDArray[Any]) -> NDArray[Any]:
        lon, lat = _TO_WGS84.transform(xyz[:, 0], xyz[:, 1])
        return np.column_stack([np.round(lon, 7), np.round(lat, 7), *xyz.T[2:]])

    return shapely.transform(shape, moved, include_z=bool(shapely.has_z(shape)))
