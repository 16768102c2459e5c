"""Reads what `layers.maps.packing` packed, as the map's script does."""

from __future__ import annotations

from typing import Any

import numpy as np
import orjson
from numpy.typing import NDArray

from layers.maps.packing import BETWEEN_TEXTS, TYPES
from layers.maps.payload import CARRY


def unpack(body: bytes) -> tuple[dict[str, Any], dict[str, NDArray[Any] | list[str]]]:
    """The header and the columns of a packed body."""
    size = int.from_bytes(body[4:8], "little")
    header = orjson.loads(body[8 : 8 + size])
    columns: dict[str, NDArray[Any] | list[str]] = {}
    for column in header.pop("columns"):
        at = 8 + size + column["start"]
        if column["type"] == "text":
            text = body[at : at + column["count"]].decode()
            columns[column["name"]] = text.split(BETWEEN_TEXTS)
        else:
            kind = np.dtype(TYPES[column["type"]]).newbyteorder("<")
            columns[column["name"]] = np.frombuffer(body, kind, column["count"], at)
    return header, columns


def entries(counts: Any, gaps: Any) -> list[list[tuple[int, int]]]:
    """Of each box its entries in a season's payload: position and day."""
    boxes, at = [], 0
    for count in counts:
        days = np.cumsum(gaps[at : at + count], dtype=int)
        boxes.append([(at + k, int(day)) for k, day in enumerate(days) if gaps[at + k] < CARRY])
        at += count
    return boxes
