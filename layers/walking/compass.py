"""Compass words for a bearing."""

from __future__ import annotations

import math

from layers.errors import BadValue

POINTS = (
    "north",
    "north-east",
    "east",
    "south-east",
    "south",
    "south-west",
    "west",
    "north-west",
)


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
