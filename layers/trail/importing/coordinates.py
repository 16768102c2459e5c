"""Coordinates as people type and files hold them, to longitude and latitude in WGS 84.

A position with latitude and longitude swapped is often a sound one elsewhere: 42 north,
76 west becomes 76 south, 42 east. It shows only against where the trail is known to be.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from importlib.resources import files
from typing import Any, Literal

import numpy as np
import pyproj
import shapely
from numpy.typing import NDArray
from pyproj import Geod
from pyproj.exceptions import CRSError, ProjError
from shapely.geometry.base import BaseGeometry

from layers.errors import BadValue
from layers.trail.geometry import SRS_ID, from_blobs
from layers.trail.importing.cells import decimal, projected, quoted
from layers.trail.store import Trail

Axis = Literal["latitude", "longitude"]

_MOST: dict[Axis, int] = {"latitude": 90, "longitude": 180}
_SIDES: dict[Axis, str] = {"latitude": "NS", "longitude": "EW"}
_NUMBER = r"\d+(?:[.,]\d+)?"
_ANGLE = re.compile(
    rf"(?P<before>[NSEW])?\s*(?P<sign>[-+−])?\s*(?P<degrees>{_NUMBER})\s*(?:°|º|˚|deg|d|:|\s)?\s*"
    rf"(?:(?P<minutes>{_NUMBER})\s*(?:'|′|’|:|\s)?\s*)?"
    rf"(?:(?P<seconds>{_NUMBER})\s*(?:\"|″|”|''|′′)?\s*)?"
    r"(?P<after>[NSEW])?",
    re.IGNORECASE,
)
_COMPASS_WORDS = re.compile(r"\b(north|south|east|west)\b", re.IGNORECASE)

NEAR_BOXES_M = 20_000
"""Added to twice the distance within which nine of ten boxes of a trail are from its middle; common
practice, no source."""

NEAR_ZONE_M = 1_500_000
"""Half the width of most time zones: 15 degrees at 45 north are 1,180 km."""

LOWEST_M, HIGHEST_M = -500, 9000
"""Heights of dry land: the shore of the Dead Sea lies at -430 m, Everest at 8,849 m."""

SPIKE_M = 5000
"""A device that loses its place leaps away for one point and back; common practice."""

_TIMES_NEARER = 4
"""The swapped position must be this many times nearer before it is believed."""

_GEOD = Geod(ellps="WGS84")
_WGS84 = pyproj.CRS.from_epsg(SRS_ID)
_ISO_6709 = re.compile(r"([+-])(\d\d)(\d\d)(\d\d)?([+-])(\d{3})(\d\d)(\d\d)?")


def degrees(value: object, *, axis: Axis) -> float:
    """A latitude or longitude in degrees, north and east positive.

    Raises
    ------
    BadValue
        It is no angle, or outside the range; the message says where the other axis or
        projected coordinates seem to be meant.
    """
    expected = f"a {axis} like {'51.5074' if axis == 'latitude' else '-0.1278'}"
    try:
        number = decimal(value, expected=expected)
    except BadValue:
        if not isinstance(value, str):
            raise
        number = _sexagesimal(value, axis, expected)
    if abs(number) > 180:
        raise BadValue(
            f"{expected}; for projected coordinates, columns x and y and their reference system",
            quoted(value),
        )
    if abs(number) > _MOST[axis]:
        raise BadValue(
            f"{expected}, from -90 to 90; latitude and longitude look swapped", quoted(value)
        )
    return number


def _sexagesimal(text: str, axis: Axis, expected: str) -> float:
    plain = _COMPASS_WORDS.sub(lambda found: found[0][0], text.strip())
    match = _ANGLE.fullmatch(plain)
    if match is None:
        raise BadValue(expected, quoted(text))
    sides = {side.upper() for side in (match["before"], match["after"]) if side}
    parts = match.group("degrees", "minutes", "seconds")
    given = [float(part.replace(",", ".")) for part in parts if part]
    if (
        len(sides) > 1
        or (sides and match["sign"])
        or any(part >= 60 for part in given[1:])
        # A fraction may only be in the last part: 42.5 30 is no angle.
        or any(not part.is_integer() for part in given[:-1])
    ):
        raise BadValue(expected, quoted(text))
    if sides - set(_SIDES[axis]):
        raise BadValue(f"{expected}; latitude and longitude look swapped", quoted(text))
    angle = math.fsum(part / 60**power for power, part in enumerate(given))
    return -angle if match["sign"] in ("-", "−") or sides & {"S", "W"} else angle


def reference_system(name: str) -> pyproj.CRS:
    """The reference system of that name, code or WKT, if it is one of places on a map."""
    expected = "a reference system like EPSG:27700"
    try:
        system = pyproj.CRS.from_user_input(name)
    except CRSError as error:
        raise BadValue(expected, quoted(name), column="crs") from error
    if not (system.is_projected or system.is_geographic):
        raise BadValue(f"{expected} for places on a map", system.name, column="crs")
    return system


class Reprojector:
    """Turns coordinates of one reference system into EPSG:4326, and refuses what looks wrong.

    Parameters
    ----------
    system
        What the coordinates are in; None = longitude and latitude in WGS 84.
    trail_at
        Where the trail is, to notice swapped coordinates; None = not known.
    far_is_right
        Whether a person said that places far from there are meant.

    Raises
    ------
    BadValue
        No way leads from the system to WGS 84.
    """

    def __init__(
        self,
        system: pyproj.CRS | None,
        trail_at: SourceLocation | None,
        *,
        far_is_right: bool = False,
    ) -> None:
        self._trail_at = trail_at
        self._far_is_right = far_is_right
        self.system = system
        self._transformer: pyproj.Transformer | None = None
        # Heights are kept as they came, so a system with heights is as good as one without.
        if system is not None and not system.to_2d().equals(_WGS84, ignore_axis_order=True):
            try:
                self._transformer = pyproj.Transformer.from_crs(system, _WGS84, always_xy=True)
            except ProjError as error:  # of the Moon, say, or of an ellipsoid that is none
                expected = "a reference system of the Earth, like EPSG:27700"
                raise BadValue(expected, quoted(system.name), column="crs") from error

    def reproject(self, shape: BaseGeometry) -> BaseGeometry:
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
                "give their reference system, or latitude and longitude are swapped"
                if self._transformer is None
                else "coordinates that fit the reference system"
            )
            raise BadValue(
                f"longitude from -180 to 180 and latitude from -90 to 90 ({hint})",
                f"{worst[0]:.10g}, {worst[1]:.10g}",
            )
        if (lonlat == 0).all():
            raise BadValue("a place", "longitude 0, latitude 0, which means a missing place")
        if self._trail_at is not None and self._trail_at.swapped(lon, lat):
            raise BadValue(
                f"a place near {self._trail_at.known_by}; latitude and longitude look swapped",
                f"latitude {lat:.6g}, longitude {lon:.6g}",
            )
        if self._trail_at is not None and not self._far_is_right:
            self._trail_at.expect_near(lon, lat)
        if len(lonlat) > 1:
            check_vertices(shape, lonlat)
        return shape

    def _transformed(self, shape: BaseGeometry) -> BaseGeometry:
        assert self._transformer is not None
        transformer = self._transformer

        def transformed(xyz: NDArray[Any]) -> NDArray[Any]:
            return np.column_stack([*transformer.transform(*xyz.T[:2]), *xyz.T[2:]])

        return shapely.transform(shape, transformed, include_z=shape.has_z)

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
        except ProjError:  # PROJ does not report which one it used where two systems nearly agree
            accuracy_m = self._transformer.accuracy
        exact = f"within {accuracy_m:g} m" if accuracy_m >= 0 else "accuracy not known"
        return f"coordinates converted from {self.system.name} to longitude and latitude, {exact}"


def check_vertices(shape: BaseGeometry, lonlat: NDArray[Any]) -> None:
    """Refuse vertices that no walk has: at 0, 0, far off the line, or of impossible height."""
    if (lonlat == 0).all(axis=1).any():
        raise BadValue("vertices with a place", "one at longitude 0, latitude 0 among others")
    if shape.has_z:
        heights = shapely.get_coordinates(shape, include_z=True)[:, 2]
        wrong = heights[~((heights >= LOWEST_M) & (heights <= HIGHEST_M))]
        if len(wrong):
            raise BadValue(
                f"heights from {LOWEST_M} to {HIGHEST_M} m, or none at all", f"{wrong[0]:g}"
            )
    if shape.geom_type == "LineString" and len(lonlat) > 2:
        lon, lat = lonlat.T
        step_m = np.asarray(_GEOD.inv(lon[:-1], lat[:-1], lon[1:], lat[1:])[2])
        past_m = np.asarray(_GEOD.inv(lon[:-2], lat[:-2], lon[2:], lat[2:])[2])
        spikes = (np.minimum(step_m[:-1], step_m[1:]) > SPIKE_M) & (past_m < SPIKE_M / 10)
        if (spikes & (past_m > 0)).any():
            at = int(np.argmax(spikes & (past_m > 0))) + 1
            raise BadValue(
                "a line without leaps",
                f"vertex {at + 1}, {step_m[at - 1] / 1000:,.0f} km off the line and back",
            )


@dataclass(frozen=True)
class SourceLocation:
    """A place the trail is near to, within `near_m` metres, and what that is known from."""

    lon: float
    lat: float
    near_m: float
    known_by: str

    def swapped(self, lon: float, lat: float) -> bool:
        """Whether a position far away would be near with its two numbers swapped."""
        if abs(lon) > 90:
            return False
        distance_m = self._distance_m(lon, lat)
        return distance_m > self.near_m and self._distance_m(lat, lon) * _TIMES_NEARER < distance_m

    def expect_near(self, lon: float, lat: float) -> None:
        """Refuse a place so far away that a sign, a zone or a decimal point is likely wrong."""
        distance_m = self._distance_m(lon, lat)
        if distance_m > self.near_m:
            raise BadValue(
                f"a place within {self.near_m / 1000:,.0f} km of {self.known_by} (a minus sign, the"
                " reference system or a decimal point may be wrong; if it is right, --far)",
                f"latitude {lat:.6g}, longitude {lon:.6g}, {distance_m / 1000:,.0f} km away",
            )

    def _distance_m(self, lon: float, lat: float) -> float:
        return float(_GEOD.inv(self.lon, self.lat, lon, lat)[2])


def trail_location(trail: Trail) -> SourceLocation | None:
    """From the trail's boxes, else from its time zone; None where neither gives a place."""
    blobs = [blob for (blob,) in trail.rows("SELECT geom FROM boxes WHERE geom NOTNULL")]
    lonlat = shapely.get_coordinates(from_blobs(blobs))
    if len(lonlat):
        lon, lat, away_m = middle_of(lonlat)
        near_m = NEAR_BOXES_M + 2 * float(np.quantile(away_m, 0.9))
        return SourceLocation(lon, lat, near_m, "the boxes of this trail")
    timezone = trail.settings().timezone
    found = zone_place(timezone)
    if found is None:
        return None
    return SourceLocation(*found, NEAR_ZONE_M, f"the time zone {timezone}")


def middle_of(lonlat: NDArray[Any]) -> tuple[float, float, NDArray[Any]]:
    """Longitude and latitude of the middle of places, and how far each is from it in metres.

    The middle is the median of either, so that one place far away does not move it.
    """
    first = lonlat[0, 0]
    lon = float(first + np.median((lonlat[:, 0] - first + 180) % 360 - 180))
    lat = float(np.median(lonlat[:, 1]))
    count = len(lonlat)
    away_m = _GEOD.inv(np.full(count, lon), np.full(count, lat), lonlat[:, 0], lonlat[:, 1])[2]
    return lon, lat, away_m


def zone_place(timezone: str) -> tuple[float, float] | None:
    """Longitude and latitude of the town a time zone is named after; None for others.

    From `zone.tab` of the IANA time zone database.
    """
    table = (files("tzdata.zoneinfo") / "zone.tab").read_text(encoding="utf-8")
    for line in table.splitlines():
        fields = line.split("\t")
        if len(fields) >= 3 and fields[2] == timezone:
            match = _ISO_6709.fullmatch(fields[1])
            if match is not None:
                return _angle(*match.group(5, 6, 7, 8)), _angle(*match.group(1, 2, 3, 4))
    return None


def _angle(sign: str, whole: str, minutes: str, seconds: str | None) -> float:
    size = int(whole) + int(minutes) / 60 + int(seconds or 0) / 3600
    return -size if sign == "-" else size
