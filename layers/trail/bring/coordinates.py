"""Latitude and longitude as people type them: decimal, or degrees, minutes and seconds."""

from __future__ import annotations

import re
from typing import Literal

import lat_lon_parser

from layers.errors import BadValue
from layers.trail.bring.values import decimal, said

Axis = Literal["latitude", "longitude"]

_MOST: dict[Axis, int] = {"latitude": 90, "longitude": 180}
_SIDES: dict[Axis, str] = {"latitude": "NS", "longitude": "EW"}
_NUMBER = r"\d+(?:[.,]\d+)?"
# The library takes any sign between the numbers, and reads `30s` as south; so the
# shape is checked here first and it is handed plain numbers.
_DEGREES = re.compile(
    rf"(?P<before>[NSEW])?\s*(?P<sign>[-+−])?\s*(?P<degrees>{_NUMBER})\s*(?:°|º|˚|deg|d|:|\s)?\s*"
    rf"(?:(?P<minutes>{_NUMBER})\s*(?:'|′|’|:|\s)?\s*)?"
    rf"(?:(?P<seconds>{_NUMBER})\s*(?:\"|″|”|''|′′)?\s*)?"
    r"(?P<after>[NSEW])?",
    re.IGNORECASE,
)
_COMPASS_WORDS = re.compile(r"\b(north|south|east|west)\b", re.IGNORECASE)


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
            f"{expected}; for projected coordinates, to be told their reference system",
            said(value),
        )
    if abs(number) > _MOST[axis]:
        raise BadValue(
            f"{expected}, from -90 to 90; latitude and longitude look swapped", said(value)
        )
    return number


def _sexagesimal(text: str, axis: Axis, expected: str) -> float:
    plain = _COMPASS_WORDS.sub(lambda found: found[0][0], text.strip())
    match = _DEGREES.fullmatch(plain)
    if match is None:
        raise BadValue(expected, said(text))
    sides = {side.upper() for side in (match["before"], match["after"]) if side}
    parts = [
        part.replace(",", ".") for part in match.group("degrees", "minutes", "seconds") if part
    ]
    if len(sides) > 1 or (sides and match["sign"]) or any(float(part) >= 60 for part in parts[1:]):
        raise BadValue(expected, said(text))
    if sides - set(_SIDES[axis]):
        raise BadValue(f"{expected}; latitude and longitude look swapped", said(text))
    sign = "-" if match["sign"] in ("-", "−") else ""
    try:
        number: float = lat_lon_parser.parse(sign + " ".join([*parts, *sides]))
    except ValueError as error:
        raise BadValue(expected, said(text)) from error
    return number
