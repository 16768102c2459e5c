"""The fixed geographic grid in which the public is shown locations.

A decimal grid counted from longitude and latitude zero, never moved and never random: a
place always falls into the same cell, so looking many times reveals no more than once
(Chapman 2020, doi 10.15468/doc-5jp4-5g10). A place is published as the middle of its cell.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import pyproj

OWN_UNCERTAINTY_M = 30
"""Of a place as recorded: a GPS reading in good conditions since May 2000 (Darwin Core,
coordinateUncertaintyInMeters, comments)."""

_E7 = 10_000_000
"""Cells are counted in whole numbers of 1e-7 degrees: 0.1 has no exact binary fraction."""

_GEOD = pyproj.Geod(ellps="WGS84")


@dataclass(frozen=True, order=True)
class GridCell:
    """A cell by its size and number: column 0, row 0 begins at longitude, latitude 0."""

    size_deg: float
    row: int
    column: int

    @property
    def lon(self) -> float:
        """Of its middle."""
        return self._middle(self.column)

    @property
    def lat(self) -> float:
        """Of its middle."""
        return self._middle(self.row)

    def _middle(self, number: int) -> float:
        size_e7 = round(self.size_deg * _E7)
        return (number * size_e7 + size_e7 // 2) / _E7

    @property
    def name(self) -> str:
        """Middle and size, such as `42.645N-77.955W-0.01`."""
        decimals = 1 - round(math.log10(self.size_deg))
        north, east = "NS"[self.lat < 0], "EW"[self.lon < 0]
        return (
            f"{abs(self.lat):.{decimals}f}{north}-{abs(self.lon):.{decimals}f}{east}"
            f"-{self.size_deg:g}"
        )

    @classmethod
    def named(cls, name: str) -> GridCell:
        """The cell of a name.

        Examples
        --------
        >>> GridCell.named("42.645N-77.955W-0.01").name
        '42.645N-77.955W-0.01'
        """
        north, east, size_deg = name.split("-", 2)
        lat, lon = (float(text[:-1]) * (1 if text[-1] in "NE" else -1) for text in (north, east))
        return cell_of(lon, lat, size_deg=float(size_deg))

    @property
    def uncertainty_m(self) -> int:
        """Metres from the middle within which every place of the cell is, rounded up.

        To the corner nearer the equator, the farthest, and the uncertainty of the place
        as recorded on top.
        """
        return _uncertainty_m(self.size_deg, self.row)


@cache
def _uncertainty_m(size_deg: float, row: int) -> int:
    middle = GridCell(size_deg, row, 0)
    nearer_equator = row if row >= 0 else row + 1
    _, _, length_m = _GEOD.inv(middle.lon, middle.lat, 0.0, nearer_equator * size_deg)
    uncertainty_m: int = math.ceil(length_m + OWN_UNCERTAINTY_M)
    return uncertainty_m


def cell_of(lon: float, lat: float, *, size_deg: float) -> GridCell:
    """The cell that a place falls into; one on an edge belongs to the cell north or east of it."""
    size_e7 = round(size_deg * _E7)
    half_turn = 180 * _E7
    lon_e7 = (round(lon * _E7) + half_turn) % (2 * half_turn) - half_turn
    # The pole itself belongs to the last row.
    lat_e7 = min(round(lat * _E7), 90 * _E7 - 1)
    return GridCell(size_deg, lat_e7 // size_e7, lon_e7 // size_e7)
