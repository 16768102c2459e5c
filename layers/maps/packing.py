"""Columns of numbers and text in one binary body, as the map's script reads them.

Layout, all little-endian: the four bytes `BXR1`; an unsigned 32-bit count of header
bytes; the header, JSON in UTF-8 padded with spaces so that the columns begin at a
multiple of 8; the columns one after the other, each beginning at a multiple of 8.
`header["columns"]` lists `name`, `type` (`i4`, `i2`, `u2`, `u1` or `text`), `start`
(bytes from the beginning of the columns) and `count` (values; bytes for text). A text
column is UTF-8 with U+001F between two texts.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np
import orjson
from numpy.typing import NDArray

MAGIC = b"BXR1"
BETWEEN_TEXTS = "\x1f"
TYPES = {"i4": np.int32, "i2": np.int16, "u2": np.uint16, "u1": np.uint8}
_NAMES = {np.dtype(kind): name for name, kind in TYPES.items()}


def pack(header: Mapping[str, Any], columns: Mapping[str, NDArray[Any] | Iterable[str]]) -> bytes:
    """One body of a header and named columns.

    Number columns must be of one of the types above; texts must not hold U+001F.
    """
    listed: list[dict[str, Any]] = []
    bodies: list[bytes] = []
    start = 0
    for name, values in columns.items():
        if isinstance(values, np.ndarray):
            kind, count = _NAMES[values.dtype], len(values)
            body = values.astype(values.dtype.newbyteorder("<"), copy=False).tobytes()
        else:
            kind, body = "text", BETWEEN_TEXTS.join(values).encode()
            count = len(body)
        listed.append({"name": name, "type": kind, "start": start, "count": count})
        body += b"\0" * (-len(body) % 8)
        bodies.append(body)
        start += len(body)
    head = orjson.dumps({**header, "columns": listed})
    head += b" " * (-(8 + len(head)) % 8)
    return b"".join([MAGIC, len(head).to_bytes(4, "little"), head, *bodies])
