"""The scanner finds a secret however it is written, and nothing where there is none."""

from __future__ import annotations

import base64
import datetime as dt
import gzip
import io
import math
import struct
import zipfile
from collections.abc import Callable

import numpy as np
import pytest
from PIL import Image, PngImagePlugin

from tests.publishing.scanner import Secrets, findings

LON, LAT = -77.905123, 42.603457
SECRETS = Secrets(
    places=np.array([[LON, LAT], [-77.911111, 42.611111]]),
    finest_deg=np.array([0.01, math.inf]),
    words=frozenset({"Wilhelmina Oakapple", "Zq007"}),
    days=frozenset({dt.date(2026, 5, 14)}),
)


def _sexagesimal(degrees: float) -> str:
    minutes = abs(degrees) % 1 * 60
    return f"{int(abs(degrees))}°{int(minutes)}′{minutes % 1 * 60:.2f}″"


def _mercator(lon: float, lat: float) -> str:
    north = math.log(math.tan(math.pi / 4 + math.radians(lat) / 2)) * 6378137
    return f"{math.radians(lon) * 6378137:.1f},{north:.1f}"


def _zipped(inner: bytes) -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w") as archive:
        archive.writestr("doc.kml", inner)
    return made.getvalue()


def _picture(text: str) -> bytes:
    made, info = io.BytesIO(), PngImagePlugin.PngInfo()
    info.add_text("Comment", text, zip=True)
    Image.new("RGB", (2, 2)).save(made, "PNG", pnginfo=info)
    return made.getvalue()


PLAIN = f"[{LON}, {LAT}]".encode()
LEAKS = {
    "plain": PLAIN,
    "five decimals": f"{LON:.5f} {LAT:.5f}".encode(),
    "three decimals": b"-77.903 42.602",
    "with letters": b"77.9051W, 42.6034N",
    "whole numbers": f"{round(LON * 1e7)},{round(LAT * 1e7)}".encode(),
    "millionths": f"lon={round(LON * 1e6)}&lat={round(LAT * 1e6)}".encode(),
    "sexagesimal": f"{_sexagesimal(LAT)} N {_sexagesimal(LON)} W".encode(),
    "metres": _mercator(LON, LAT).encode(),
    "entities": PLAIN.replace(b".", b"&#46;"),
    "json escapes": PLAIN.replace(b".", b"\\u002e"),
    "url escapes": PLAIN.replace(b".", b"%2E"),
    "int32 columns": b"BXR1" + np.array([5, LON * 1e7, 7, LAT * 1e7]).astype("<i4").tobytes(),
    "float32": b"\0" + struct.pack("<ff", LON, LAT),
    "float64 big end": struct.pack(">dd", LON, LAT),
    "base64": b'"' + base64.b64encode(struct.pack("<dd", LON, LAT) + b"....") + b'"',
    "base64 of gzip": base64.b64encode(gzip.compress(PLAIN)),
    "gzip": gzip.compress(PLAIN),
    "zip": _zipped(PLAIN),
    "picture": _picture(PLAIN.decode()),
    "hidden place by a finer cell": b"42.6111, -77.9111",
    "person": b"seen by WILHELMINA  Oakapple".replace(b"  ", b" "),
    "person in html": b"<td>Wilhelmina&#32;Oakapple</td>",
    "box": b'{"box":"Zq007"}',
    "iso day": b'"2026-05-14T09:00"'.replace(b"T09:00", b""),
    "day in words": b"on 14 May",
    "day american": b"May 14, 2026",
}
CLEAN = {
    "the middle of its cell": b"42.605 -77.905",
    "an edge of its cell": b"[-77.91, 42.60]",
    "the cell's id": b"42.605N-77.905W-0.01",
    "one of two coordinates": b"42.603457 and 12.3",
    "a month": b"2026-05, May 2026",
    "another day": b"24 May 2026, 2026-05-04",
    "part of another word": b"Zq0071 aZq007",
    "nothing": b"",
    "noise": np.random.default_rng(1).bytes(50_000),
}


@pytest.mark.parametrize("how", LEAKS)
def test_a_secret_is_found_however_it_is_written(how: str) -> None:
    found = findings({how: LEAKS[how]}, SECRETS)
    assert found
    assert found[0].startswith(how)


@pytest.mark.parametrize("how", CLEAN)
def test_what_is_no_secret_is_not_reported(how: str) -> None:
    assert findings({how: CLEAN[how]}, SECRETS) == []


@pytest.mark.parametrize("wrap", [gzip.compress, base64.b64encode, _zipped])
def test_a_secret_is_found_inside_of_two_wrappings(wrap: Callable[[bytes], bytes]) -> None:
    assert findings({"body": wrap(wrap(PLAIN * 3))}, SECRETS)
