"""The boxes nearest to a place, by true distance on the earth's surface.

A kd-tree finds a few candidates and exact geodesics decide among them, so the answer
is the one that measuring every box would give. What makes that safe is a bound. Put
each point on a unit sphere at its reduced latitude (`tan(beta) = (1 - f) tan(latitude)`)
and let `sigma = 2 asin(chord / 2)` be the angle between two points there. A step on
the ellipsoid is `ds^2 = (a^2 sin^2(beta) + b^2 cos^2(beta)) dbeta^2 + a^2 cos^2(beta) dlon^2`,
never shorter than `b` times and never longer than `a` times the same step on that
sphere. Hence, for every pair of points, `b sigma <= geodesic <= a sigma`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from pyproj import Geod
from scipy.spatial import cKDTree

from layers.errors import BadValue

WGS84 = Geod(ellps="WGS84")

POINTS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")

SPARE = 4
"""Neighbours requested of the tree beyond those wanted. The bounds differ by 0.34 %, so a
few spare ones nearly always show that no box beyond them can matter."""

ROUNDING = 1e-12
"""Added to a chord of the unit sphere before comparing: thousands of times the rounding
error of a chord (about 4e-16); 6 micrometres on the ground, far above the rounding
error of a geodesic."""

LON_LIMIT = 360.0
LAT_LIMIT = 90.0

LONGEST_CHORD = 2.0
"""Chord between opposite points of the unit sphere."""


def compass(bearing_deg: float) -> str:
    """The nearest of the eight compass points, in words.

    Bearings are in degrees clockwise from true north; values outside 0 to 360
    are wrapped. Halfway between two points the clockwise one is given.

    Raises
    ------
    BadValue
        The bearing is not a finite number.

    Examples
    --------
    >>> compass(50.0)
    'north-east'
    """
    if not math.isfinite(bearing_deg):
        raise BadValue("a bearing in degrees", repr(bearing_deg))
    width_deg = 360.0 / len(POINTS)
    return POINTS[math.floor(bearing_deg / width_deg + 0.5) % len(POINTS)]


@dataclass(frozen=True)
class Nearest:
    """Boxes sorted by distance, and by position where distances are equal.

    Attributes
    ----------
    position
        Where each box stands in the arrays that `NearestBoxes` was built from.
    distance_m
        Length of the shortest line on the WGS84 ellipsoid.
    bearing_deg
        Direction in which that line sets out towards the box, clockwise from true
        north, 0 <= bearing < 360; NaN where the box is at the very place. At a pole
        it counts from the meridian of the longitude that was given.
    """

    position: NDArray[np.int64]
    distance_m: NDArray[np.float64]
    bearing_deg: NDArray[np.float64]

    def __len__(self) -> int:
        return len(self.position)

    @property
    def direction(self) -> tuple[str, ...]:
        """Compass words of the bearings ("north-east"); "here" where there is none."""
        return tuple(
            "here" if math.isnan(bearing) else compass(bearing)
            for bearing in self.bearing_deg.tolist()
        )


class NearestBoxes:
    """Boxes prepared for asking which are nearest to a place.

    Parameters
    ----------
    lon, lat
        Places of the boxes in degrees on WGS84, one value per box. Longitudes run
        from -360 to 360; those beyond 180 wrap.

    Raises
    ------
    BadValue
        The arrays differ in length, or a coordinate is missing or out of range.

    Examples
    --------
    >>> boxes = NearestBoxes([-5.71475, -3.07009], [50.06632, 58.64402])
    >>> found = boxes.query(-3.2, 55.95, k=1)
    >>> found.position.tolist(), found.direction
    ([1], ('north',))
    """

    def __init__(self, lon: ArrayLike, lat: ArrayLike) -> None:
        self._lon = _checked(lon, "longitude", limit=LON_LIMIT)
        self._lat = _checked(lat, "latitude", limit=LAT_LIMIT)
        if len(self._lon) != len(self._lat):
            raise BadValue(
                "as many latitudes as longitudes",
                f"{len(self._lon)} longitudes and {len(self._lat)} latitudes",
            )
        self._tree = cKDTree(_on_unit_sphere(self._lon, self._lat))

    def __len__(self) -> int:
        return len(self._lon)

    def query(
        self, lon: float, lat: float, *, k: int, max_distance_m: float | None = None
    ) -> Nearest:
        """The `k` boxes nearest to a place; all of them if there are no more than `k`.

        Parameters
        ----------
        lon, lat
            The place, in degrees on WGS84.
        k
            How many boxes are wanted, at least 1.
        max_distance_m
            Leave out boxes farther off than this; None sets no limit.

        Raises
        ------
        BadValue
            A coordinate, `k` or `max_distance_m` is out of range.
        """
        if not abs(lon) <= LON_LIMIT:
            raise _out_of_range(lon, "longitude", LON_LIMIT)
        if not abs(lat) <= LAT_LIMIT:
            raise _out_of_range(lat, "latitude", LAT_LIMIT)
        if k < 1:
            raise BadValue("at least 1 box to look for", repr(k), column="k")
        if max_distance_m is not None and not max_distance_m >= 0:
            raise BadValue(
                "a distance of 0 m or more", repr(max_distance_m), column="max_distance_m"
            )
        positions = self._candidates(_on_unit_sphere(lon, lat), k, max_distance_m)
        azimuth, _, distance = WGS84.inv(
            np.full(len(positions), lon),
            np.full(len(positions), lat),
            self._lon[positions],
            self._lat[positions],
        )
        order = np.lexsort((positions, distance))[:k]
        distance = distance[order]
        if max_distance_m is not None:
            distance = distance[distance <= max_distance_m]
            order = order[: len(distance)]
        # Taken twice because the remainder of a tiny negative azimuth rounds to 360.
        bearing = azimuth[order] % 360.0 % 360.0
        bearing[distance == 0.0] = np.nan
        return Nearest(positions[order], distance, bearing)

    def _candidates(
        self, here: NDArray[np.float64], k: int, max_distance_m: float | None
    ) -> NDArray[np.int64]:
        """Positions of every box that can be among the `k` nearest within the limit."""
        farthest = LONGEST_CHORD + ROUNDING
        if max_distance_m is not None:
            farthest = _chord(max_distance_m / WGS84.b)
        wanted = min(k + SPARE, len(self))
        if wanted == 0:
            return np.empty(0, dtype=np.int64)
        chord, position = np.atleast_1d(
            *self._tree.query(here, k=wanted, distance_upper_bound=farthest)
        )
        found = np.isfinite(chord)
        if wanted < len(self) and found.all():
            # The k-th box lies within `a sigma`, so a better one has `b sigma` below that.
            farthest = min(farthest, _chord(_angle(chord[k - 1]) * WGS84.a / WGS84.b))
            if chord[-1] <= farthest:
                return np.array(self._tree.query_ball_point(here, farthest), dtype=np.int64)
            found = chord <= farthest
        candidates: NDArray[np.int64] = position[found]
        return candidates


def _on_unit_sphere(lon: ArrayLike, lat: ArrayLike) -> NDArray[np.float64]:
    """Unit vectors at the reduced latitude, shape (..., 3)."""
    lon_rad, lat_rad = np.radians(lon), np.radians(lat)
    across, up = np.cos(lat_rad), (1.0 - WGS84.f) * np.sin(lat_rad)
    scale = 1.0 / np.hypot(across, up)
    flat = across * scale
    return np.stack([flat * np.cos(lon_rad), flat * np.sin(lon_rad), up * scale], axis=-1)


def _angle(chord: float) -> float:
    return 2.0 * math.asin(min(chord / 2.0, 1.0))


def _chord(angle: float) -> float:
    """A chord that no pair of points at most `angle` apart exceeds, rounding included."""
    return 2.0 * math.sin(min(angle, math.pi) / 2.0) + ROUNDING


def _checked(values: ArrayLike, name: str, *, limit: float) -> NDArray[np.float64]:
    array = np.array(values, dtype=np.float64)
    if array.ndim != 1:
        raise BadValue(f"one {name} per box", f"an array of shape {array.shape}", column=name)
    wrong = np.flatnonzero(~(np.abs(array) <= limit))
    if len(wrong):
        first = int(wrong[0])
        raise _out_of_range(
            float(array[first]), name, limit, of=f" for the box at position {first}"
        )
    return array


def _out_of_range(value: float, name: str, limit: float, *, of: str = "") -> BadValue:
    return BadValue(f"a {name} from {-limit:g} to {limit:g} degrees{of}", repr(value), column=name)
