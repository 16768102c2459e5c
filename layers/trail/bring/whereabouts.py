"""Where on earth a trail is, to notice positions with latitude and longitude swapped.

A swapped position is often a sound one elsewhere: 42 north, 76 west becomes 76 south,
42 east. It shows only against where the trail is known to be.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from importlib.resources import files

from pyproj import Geod

from layers.trail.store import Trail

NEAR_BOXES_M = 200_000
"""A trail is one reserve or one valley; common practice, no source."""

NEAR_ZONE_M = 1_500_000
"""Half the width of most time zones: 15 degrees at 45 north are 1,180 km."""

_FAR_NEARER = 4
"""The swapped position must be this many times nearer before it is believed."""

_GEOD = Geod(ellps="WGS84")
_ISO_6709 = re.compile(r"([+-])(\d\d)(\d\d)(\d\d)?([+-])(\d{3})(\d\d)(\d\d)?")


@dataclass(frozen=True)
class Whereabouts:
    """A place the trail is near to, within `near_m` metres, and what tells so."""

    lon: float
    lat: float
    near_m: float
    told_by: str

    def swapped(self, lon: float, lat: float) -> bool:
        """Whether a position far away would be near with its two numbers swapped."""
        if abs(lon) > 90:
            return False
        away_m = self._away_m(lon, lat)
        return away_m > self.near_m and self._away_m(lat, lon) * _FAR_NEARER < away_m

    def _away_m(self, lon: float, lat: float) -> float:
        return float(_GEOD.inv(self.lon, self.lat, lon, lat)[2])


def whereabouts(trail: Trail) -> Whereabouts | None:
    """Told by the trail's first box, else by its time zone; None where neither tells."""
    shapes = trail.boxes().geometry
    placed = shapes[~(shapes.isna() | shapes.is_empty)]
    if len(placed):
        first = placed.iloc[0]
        return Whereabouts(first.x, first.y, NEAR_BOXES_M, "the boxes of this trail")
    timezone = trail.settings().timezone
    found = zone_place(timezone)
    if found is None:
        return None
    return Whereabouts(*found, NEAR_ZONE_M, f"the time zone {timezone}")


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
