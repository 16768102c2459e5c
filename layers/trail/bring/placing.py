"""From the coordinates of a file to longitude and latitude in WGS 84."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np
import pyproj
import shapely
from numpy.typing import NDArray
from pyproj.exceptions import CRSError, ProjError
from shapely.geometry.base import BaseGeometry

from layers.errors import BadValue
from layers.trail.bring.coordinates import Axis, degrees
from layers.trail.bring.values import projected, said
from layers.trail.bring.whereabouts import Whereabouts
from layers.trail.geometry import SRS_ID

_WGS84 = pyproj.CRS.from_epsg(SRS_ID)


def reference_system(name: str) -> pyproj.CRS:
    """The reference system of that name, code or WKT, if it is one of places on a map."""
    expected = "a reference system like EPSG:27700"
    try:
        system = pyproj.CRS.from_user_input(name)
    except CRSError as error:
        raise BadValue(expected, said(name), column="crs") from error
    if not (system.is_projected or system.is_geographic):
        raise BadValue(f"{expected} for places on a map", system.name, column="crs")
    return system


class Placer:
    """Turns coordinates of one reference system into EPSG:4326, and doubts what looks wrong.

    Parameters
    ----------
    system
        What the coordinates are in; None = longitude and latitude in WGS 84.
    trail_at
        Where the trail is, to notice swapped coordinates; None = not known.
    """

    def __init__(self, system: pyproj.CRS | None, trail_at: Whereabouts | None) -> None:
        self._trail_at = trail_at
        self.system = system
        self._transformer: pyproj.Transformer | None = None
        # Heights are kept as they came, so a system with heights is as good as one without.
        if system is not None and not system.to_2d().equals(_WGS84, ignore_axis_order=True):
            self._transformer = pyproj.Transformer.from_crs(system, _WGS84, always_xy=True)

    def place(self, shape: BaseGeometry) -> BaseGeometry:
        """A shape in EPSG:4326; heights are kept as they came.

        Raises
        ------
        BadValue
            It has no vertex, lies outside longitude and latitude, at exactly 0, 0, or
            where the trail would be if its coordinates were swapped.
        """
        if shape.is_empty:
            raise BadValue("a place", f"an empty {shape.geom_type}")
        if self._transformer is not None:
            shape = self._transformed(shape)
        lonlat = shapely.get_coordinates(shape)
        lon, lat = float(lonlat[0, 0]), float(lonlat[0, 1])
        if not (np.abs(lonlat) <= (180.0, 90.0)).all():
            # Not a number compares false, so it is caught here too.
            worst = lonlat[~(np.abs(lonlat) <= (180.0, 90.0)).all(axis=1)][0]
            hint = (
                "a reference system to be told, or latitude and longitude are swapped"
                if self._transformer is None
                else "coordinates that fit the reference system"
            )
            raise BadValue(
                f"longitude from -180 to 180 and latitude from -90 to 90 ({hint})",
                f"{worst[0]:.10g}, {worst[1]:.10g}",
            )
        if (lonlat == 0).all():
            raise BadValue("a place", "longitude 0, latitude 0, which stands for a missing place")
        if self._trail_at is not None and self._trail_at.swapped(lon, lat):
            raise BadValue(
                f"a place near {self._trail_at.told_by}; latitude and longitude look swapped",
                f"latitude {lat:.6g}, longitude {lon:.6g}",
            )
        return shape

    def _transformed(self, shape: BaseGeometry) -> BaseGeometry:
        assert self._transformer is not None
        transformer = self._transformer

        def turn(xyz: NDArray[Any]) -> NDArray[Any]:
            return np.column_stack([*transformer.transform(*xyz.T[:2]), *xyz.T[2:]])

        return shapely.transform(shape, turn, include_z=shape.has_z)

    def reader(self, axis: Axis) -> Callable[[object], float]:
        """What reads a cell that holds one coordinate: a number, or an angle in any form."""
        if self.system is not None and self.system.is_projected:
            return projected
        return partial(degrees, axis=axis)

    def note(self) -> str | None:
        """What was done to the coordinates placed so far, and how exactly; None for nothing."""
        if self._transformer is None or self.system is None:
            return None
        try:
            accuracy_m = self._transformer.get_last_used_operation().accuracy
        except ProjError:  # PROJ does not tell which one it used where two systems nearly agree
            accuracy_m = self._transformer.accuracy
        exact = f"within {accuracy_m:g} m" if accuracy_m >= 0 else "to a degree not known"
        return f"coordinates turned from {self.system.name} into longitude and latitude, {exact}"
