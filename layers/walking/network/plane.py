"""A flat map in metres around a trail, for nearness and crossings.

Lengths that are shown or added up never come from here: they are geodesics.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Self

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from pyproj import Transformer
from shapely.geometry.base import BaseGeometry

from layers.walking.nearest import WGS84

Floats = NDArray[np.float64]


class Plane:
    """Azimuthal equidistant map of WGS84 around a middle.

    Within 20 km of the middle, distances on it are true to 2 mm per km.
    """

    def __init__(self, lon: float, lat: float) -> None:
        here = f"+proj=aeqd +ellps=WGS84 +units=m +lon_0={lon!r} +lat_0={lat!r}"
        self._transformer = Transformer.from_crs("EPSG:4326", here, always_xy=True)

    @classmethod
    def around(cls, lon: ArrayLike, lat: ArrayLike) -> Self:
        """The plane around the middle of some places; around 0, 0 if there are none."""
        lon, lat = np.asarray(lon, np.float64), np.asarray(lat, np.float64)
        if lon.size == 0:
            return cls(0.0, 0.0)
        return cls(float(lon.min() + lon.max()) / 2.0, float(lat.min() + lat.max()) / 2.0)

    def xy(self, lon: ArrayLike, lat: ArrayLike) -> Floats:
        """Metres east and north of the middle, shape (n, 2)."""
        x, y = self._transformer.transform(np.atleast_1d(lon), np.atleast_1d(lat))
        return np.column_stack([x, y])

    def lonlat(self, x: ArrayLike, y: ArrayLike) -> tuple[Floats, Floats]:
        """Degrees on WGS84 of places on the map."""
        lon, lat = self._transformer.transform(x, y, direction="INVERSE")
        return np.asarray(lon), np.asarray(lat)


def project(point: Floats, begin: Floats, end: Floats) -> tuple[Floats, Floats]:
    """Nearest place on segments to points: fraction of the segment, and distance.

    All arrays have shape (n, 2), one row per pair of point and segment.
    """
    along = end - begin
    square = (along**2).sum(axis=1)
    fraction = ((point - begin) * along).sum(axis=1) / np.where(square > 0.0, square, 1.0)
    fraction = np.clip(fraction, 0.0, 1.0)
    gap = np.linalg.norm(begin + fraction[:, None] * along - point, axis=1)
    return fraction, gap


def places_along(
    where: Floats, along: Floats, *, lon: Floats, lat: Floats
) -> tuple[Floats, Floats]:
    """Degrees at distances along a line; between two vertices on the geodesic.

    A straight line in degrees strays from it by 0.3 m in the middle of 4 km.
    """
    before = np.clip(np.searchsorted(along, where, side="right") - 1, 0, len(along) - 2)
    step = along[before + 1] - along[before]
    fraction = (where - along[before]) / np.where(step > 0.0, step, 1.0)
    whole = np.round(fraction)
    vertex = before + whole.astype(np.int64)
    place_lon, place_lat = lon[vertex], lat[vertex]
    inner = np.flatnonzero(fraction != whole)
    if len(inner):
        first = before[inner]
        begin = lon[first], lat[first]
        azimuth, _, length_m = WGS84.inv(*begin, lon[first + 1], lat[first + 1])
        place_lon[inner], place_lat[inner], _ = WGS84.fwd(
            *begin, azimuth, length_m * fraction[inner]
        )
    return place_lon, place_lat


def away_m(shapes: Sequence[BaseGeometry | None], *, lon: float, lat: float) -> NDArray[np.float64]:
    """Distance in metres from a place to each shape; 0 inside of one, nan where there is none.

    Places and shapes are in degrees on WGS84. Measured on a plane around the place: good to
    a thousandth within some ten kilometres of it, and no more than a guess far beyond.
    """
    plane = Plane(lon, lat)
    flat = shapely.transform(np.array(shapes, object), lambda at: plane.xy(at[:, 0], at[:, 1]))
    distance: NDArray[np.float64] = shapely.distance(shapely.Point(0.0, 0.0), flat)
    return distance
