"""Shapes to and from the blobs of a GeoPackage (OGC 12-128r19, clause 2.1.3)."""

from __future__ import annotations

import math
import struct
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from layers.errors import NotATrail

SRS_ID = 4326
"""EPSG:4326, longitude before latitude as the GeoPackage standard orders them."""

_ENVELOPE_BYTES = (0, 32, 48, 48, 64)
_LITTLE_ENDIAN, _ENVELOPE_XY, _EMPTY = 0x01, 0x02, 0x10


def to_blob(shape: BaseGeometry) -> bytes:
    """The GeoPackage blob of a shape in EPSG:4326; heights stay.

    Points carry no envelope, other shapes an x-y envelope.
    """
    flags, envelope = _LITTLE_ENDIAN, b""
    if shape.is_empty:
        flags |= _EMPTY
    elif shape.geom_type != "Point":
        flags |= _ENVELOPE_XY
        min_x, min_y, max_x, max_y = shape.bounds
        envelope = struct.pack("<4d", min_x, max_x, min_y, max_y)
    header = struct.pack("<2sBBi", b"GP", 0, flags, SRS_ID)
    wkb: bytes = shapely.to_wkb(shape, byte_order=1, flavor="iso")
    return header + envelope + wkb


def _header_bytes(blob: bytes) -> int:
    if len(blob) < 8 or blob[:2] != b"GP":
        raise NotATrail(f"Expected a GeoPackage shape, got {blob[:8]!r}")
    envelope = (blob[3] >> 1) & 0b111
    if envelope >= len(_ENVELOPE_BYTES):
        raise NotATrail(f"Expected a shape's envelope code 0 to 4, got {envelope}")
    return 8 + _ENVELOPE_BYTES[envelope]


def from_blobs(blobs: list[bytes | None]) -> NDArray[Any]:
    """Shapes of many blobs, in order; a missing blob gives None.

    Raises
    ------
    NotATrail
        A blob is not a GeoPackage shape.
    """
    bodies = [None if blob is None else blob[_header_bytes(blob) :] for blob in blobs]
    try:
        shapes: NDArray[Any] = shapely.from_wkb(np.array(bodies, dtype=object))
    except shapely.errors.GEOSException as error:
        raise NotATrail(f"Expected well-known binary shapes, got: {error}") from error
    return shapes


def bounds(blob: bytes | None) -> tuple[float, float, float, float] | None:
    """min_x, min_y, max_x, max_y of a blob; None for a missing or empty shape."""
    if blob is None:
        return None
    start = _header_bytes(blob)
    if len(blob) >= start + 21 and blob[start] == 1 and blob[start + 1] == 1:
        x, y = struct.unpack_from("<2d", blob, start + 5)
        return None if math.isnan(x) else (x, y, x, y)
    shape = shapely.from_wkb(blob[start:])
    return None if shape.is_empty else shape.bounds


SQL_FUNCTIONS = {
    "ST_MinX": lambda blob: (bounds(blob) or (None,) * 4)[0],
    "ST_MinY": lambda blob: (bounds(blob) or (None,) * 4)[1],
    "ST_MaxX": lambda blob: (bounds(blob) or (None,) * 4)[2],
    "ST_MaxY": lambda blob: (bounds(blob) or (None,) * 4)[3],
    "ST_IsEmpty": lambda blob: None if blob is None else int(bounds(blob) is None),
}
"""What the triggers of a spatial index call; see `connection.connect`."""
