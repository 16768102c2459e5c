"""How far shapes lie from a place."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from layers.walking.network.plane import Plane


def away_m(shapes: Sequence[BaseGeometry | None], *, lon: float, lat: float) -> NDArray[np.float64]:
    """Distance in metres from a place to each shape; 0 inside of one, nan where there is none.

    Places and shapes are in degrees on WGS84. Measured on a plane around the place: good to
    a thousandth within some ten kilometres of it, and no more than a guess far beyond.
    """
    plane = Plane(lon, lat)
    flat = shapely.transform(np.array(shapes, object), lambda at: plane.xy(at[:, 0], at[:, 1]))
    distance: NDArray[np.float64] = shapely.distance(shapely.Point(0.0, 0.0), flat)
    return distance
