"""Looks through everything public for what must not get out.

`findings(bodies, secrets)` takes whatever a stranger can fetch - pages, scripts, data,
headers, pictures, archives - and names every trace of a secret in it: as text, in any
escaping, as a number at any precision finer than the grid, in whole or scaled units, in
metres of Web Mercator, in degrees and minutes, packed in binary columns, or inside of
base64, gzip, zip or the text of a picture.
"""

from __future__ import annotations

import base64
import binascii
import gzip
import html
import io
import json
import math
import re
import struct
import zipfile
import zlib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from typing import Any
from urllib.parse import unquote

import numpy as np
from numpy.typing import NDArray

DEEPEST = 4
"""How many wrappings around each other are opened."""

FINEST_CELL_DEG = 0.001
"""The finest cell that any trail may tell places by."""

_NUMBER = re.compile(r"(?<![\d.])\d+(?:\.\d+)?(?:[eE][-+]?\d+)?")
_BASE64 = re.compile(rb"[A-Za-z0-9+/_-]{24,}={0,2}")
_ESCAPED = re.compile(r"\\u([0-9a-fA-F]{4})")
_WORD = re.compile(r"\w+")
# A look ahead, so that `14 may 2` gives both `14 may` and `may 2`.
_DAY = re.compile(
    r"(?=(?<!\w)(\d{4}-\d\d-\d\d|\d{1,2}\.\d{1,2}\.\d{4}|\d\d/\d\d/\d{4}"
    r"|\d{1,2} [a-z]{3,9}|[a-z]{3,9} \d{1,2})(?!\w))"
)
_SEXAGESIMAL = re.compile(
    r"(\d{1,3})\s*[°d:]\s*(\d{1,2}(?:\.\d+)?)\s*(?:['′m:]\s*(?:(\d{1,2}(?:\.\d+)?)\s*[\"″s]?)?)?"
)
_PACKED = tuple(
    (order + kind, scale, near)
    for order in "<>"
    for kind, scale, near in (
        ("i4", 1e7, 2e-6),
        ("i4", 1e6, 1e-6),
        # The step of a 32-bit float near 180.
        ("f4", 1.0, 1.6e-5),
        ("f8", 1.0, 1e-6),
    )
)
_SCALES = (1e5, 1e6, 1e7)
_EARTH_RADIUS_M = 6378137.0
"""Of Web Mercator, EPSG:3857."""

_MERCATOR_NEAR_M = 5.0


@dataclass(frozen=True)
class Secrets:
    """What must not be found.

    Attributes
    ----------
    places
        Shape (n, 2): longitude and latitude of each box.
    finest_deg
        For each place the size of the finest cell that something near it may be told by;
        infinite where the place itself must not be told at all.
    words
        Names of people, ids, notes.
    days
        Days on which something happened that is not told yet.
    """

    places: NDArray[np.float64]
    finest_deg: NDArray[np.float64]
    words: frozenset[str] = frozenset()
    days: frozenset[date] = frozenset()

    @cached_property
    def mercator_m(self) -> NDArray[np.float64]:
        lon, lat = np.radians(self.places.T)
        north = np.log(np.tan(math.pi / 4 + lat / 2))
        return np.column_stack([lon, north]) * _EARTH_RADIUS_M

    @cached_property
    def written(self) -> Mapping[str, str]:
        """Every way in which a secret day or word is written, folded -> what it tells."""
        ways = {word.casefold(): word for word in self.words}
        ways |= {way.casefold(): f"day {day}" for day in self.days for way in _written(day)}
        return ways


def findings(bodies: Mapping[str, bytes], secrets: Secrets) -> list[str]:
    """Each trace of a secret: where it was found, and what; empty if there is none."""
    found: list[str] = []
    for name, body in bodies.items():
        for where, layer in _layers(name, body, DEEPEST):
            found += _in_layer(where, layer, secrets)
    return found


def _in_layer(where: str, layer: bytes, secrets: Secrets) -> Iterator[str]:
    for place in np.flatnonzero(_packed_places(layer, secrets)):
        yield f"{where}: place {tuple(secrets.places[place])} in packed numbers"
    text = _plain(layer)
    if text is None:
        return
    folded = text.casefold()
    candidates = {found[1] for found in _DAY.finditer(folded)} | set(_WORD.findall(folded))
    phrases = (word.casefold() for word in secrets.words if word.casefold() in folded)
    for way in sorted(candidates.intersection(secrets.written).union(phrases)):
        if re.search(rf"(?<!\w){re.escape(way)}(?!\w)", folded):
            yield f"{where}: {secrets.written[way]}"
    yield from (f"{where}: {told}" for told in _told_places(text, secrets))


# Text


def _plain(layer: bytes) -> str | None:
    """A body as text, with every usual escaping undone; None if it is no text."""
    try:
        text = layer.decode("utf-8")
    except UnicodeDecodeError:
        return None
    text = _ESCAPED.sub(lambda code: chr(int(code[1], 16)), text)
    return html.unescape(unquote(text))


def _written(day: date) -> list[str]:
    """The ways a day is written."""
    month, short = f"{day:%B}", f"{day:%b}"
    return [
        day.isoformat(),
        f"{day:%Y%m%d}",
        f"{day.day} {month}",
        f"{day.day} {short}",
        f"{month} {day.day}",
        f"{short} {day.day}",
        f"{day.day}.{day.month}.{day.year}",
        f"{day:%m/%d/%Y}",
        f"{day:%d/%m/%Y}",
    ]


# Numbers in text


_MOST = 1e12
"""No coordinate in any unit that the scanner knows is larger."""


def _told_places(text: str, secrets: Secrets) -> Iterator[str]:
    numbers = np.array([float(one) for one in _NUMBER.findall(text)])
    # Letters of an id may read as a number beyond all measure, such as 4e306.
    numbers = numbers[np.abs(numbers) < _MOST]
    # West and south are told by a sign, a letter or a word.
    numbers = np.unique(np.concatenate([numbers, -numbers]))
    degrees = np.unique(np.concatenate([numbers, _sexagesimal(text)]))
    for scale in (1.0, *_SCALES):
        whole = degrees if scale == 1.0 else numbers[np.abs(numbers) > scale] / scale
        for place in np.flatnonzero(_finer_than_grid(whole, secrets)):
            yield f"place {tuple(secrets.places[place])} finer than its grid, in {scale:g} parts"
    mercator = secrets.mercator_m
    both = [_any_near(numbers, mercator[:, axis], _MERCATOR_NEAR_M) for axis in (0, 1)]
    for place in np.flatnonzero(both[0] & both[1]):
        yield f"place {tuple(secrets.places[place])} in metres of Web Mercator"


def _sexagesimal(text: str) -> NDArray[np.float64]:
    values = [
        float(degrees) + float(minutes) / 60 + float(seconds or 0) / 3600
        for degrees, minutes, seconds in _SEXAGESIMAL.findall(text)
    ]
    return np.array([sign * value for value in values for sign in (1, -1)])


def _finer_than_grid(numbers: NDArray[np.float64], secrets: Secrets) -> NDArray[np.bool_]:
    """For each place whether both of its coordinates are told more finely than by its cell.

    A number tells a coordinate if it lies within a cell's reach of it and is neither an
    edge nor the middle of a cell.
    """
    told = np.zeros(len(secrets.places), np.bool_)
    for size_deg in np.unique(secrets.finest_deg):
        # A hidden place must not be told even by a cell of its own, but the middle of a
        # neighbour's may lie nearby.
        hidden = math.isinf(size_deg)
        cell_deg = FINEST_CELL_DEG if hidden else size_deg
        reach_deg = cell_deg / 2
        halves = numbers / reach_deg
        off_grid = numbers[np.abs(halves - np.rint(halves)) > 1e-6]
        both = [_any_near(off_grid, secrets.places[:, axis], reach_deg) for axis in (0, 1)]
        told |= both[0] & both[1] & (secrets.finest_deg == size_deg)
    return told


def _any_near(
    numbers: NDArray[np.float64], wanted: NDArray[np.float64], near: float
) -> NDArray[np.bool_]:
    """For each wanted value whether any of the sorted numbers lies near it."""
    found: NDArray[np.bool_] = np.searchsorted(numbers, wanted - near) < np.searchsorted(
        numbers, wanted + near, side="right"
    )
    return found


# Numbers in binary


def _packed_places(layer: bytes, secrets: Secrets) -> NDArray[np.bool_]:
    """For each place whether both coordinates stand in a body as binary numbers of one kind."""
    found = np.zeros(len(secrets.places), np.bool_)
    for kind, scale, near in _PACKED:
        size = np.dtype(kind).itemsize
        parts = [
            np.frombuffer(layer, kind, (len(layer) - start) // size, start)
            for start in range(min(size, len(layer)))
        ]
        if not parts:
            continue
        with np.errstate(invalid="ignore"):
            numbers = np.concatenate(parts).astype(np.float64) / scale
        numbers = np.sort(numbers[np.isfinite(numbers) & (np.abs(numbers) <= 180)])
        both = [_any_near(numbers, secrets.places[:, axis], near) for axis in (0, 1)]
        found |= both[0] & both[1]
    return found


# Wrappings


def _layers(name: str, body: bytes, deepest: int) -> Iterator[tuple[str, bytes]]:
    """A body, and everything that is wrapped in it."""
    yield name, body
    if deepest == 0:
        return
    for what, inner in _unwrapped(body):
        yield from _layers(f"{name} > {what}", inner, deepest - 1)


def _unwrapped(body: bytes) -> Iterator[tuple[str, bytes]]:
    if body[:2] == b"\x1f\x8b":
        yield "gzip", gzip.decompress(body)
    elif body[:4] == b"PK\x03\x04":
        with zipfile.ZipFile(io.BytesIO(body)) as archive:
            for member in archive.namelist():
                yield member, archive.read(member)
            yield "names", "\n".join(archive.namelist()).encode()
    elif body[:8] == b"\x89PNG\r\n\x1a\n":
        yield from _picture_texts(body)
    elif b"\x00" not in body[:1024]:
        for number, found in enumerate(_BASE64.findall(body)):
            plain = found.rstrip(b"=").translate(bytes.maketrans(b"-_", b"+/"))
            try:
                yield f"base64 {number}", base64.b64decode(plain + b"=" * (-len(plain) % 4))
            except binascii.Error:
                continue


def _picture_texts(picture: bytes) -> Iterator[tuple[str, bytes]]:
    """Every part of a PNG besides the picture itself (PNG specification, 11.3)."""
    at = 8
    while at < len(picture):
        (size,) = struct.unpack(">I", picture[at : at + 4])
        kind, part = picture[at + 4 : at + 8], picture[at + 8 : at + 8 + size]
        at += 12 + size
        if kind in (b"tEXt", b"iTXt", b"eXIf", b"tIME"):
            yield kind.decode(), part
        elif kind == b"zTXt":
            yield "zTXt", zlib.decompress(part.partition(b"\0")[2][1:])


# Fetching


@dataclass
class Crawled:
    """What was fetched: body by address, with its headers under `ADDRESS (headers)`."""

    bodies: dict[str, bytes] = field(default_factory=dict)
    statuses: dict[str, int] = field(default_factory=dict)


_LINKS = re.compile(rb"""(?:href|src|action)\s*=\s*["']([^"'#]+)""")
_CSS_LINKS = re.compile(rb"""url\(\s*["']?([^"')#]+)""")
OWN_HEADERS = ("date", "server")
"""Headers that tell of the moment, not of the trail."""


def crawl(client: Any, starts: Iterable[str], *, below: str) -> Crawled:
    """Everything that can be reached from some addresses, without leaving a part of the site.

    Parameters
    ----------
    client
        Anything with `get(address)` that answers as httpx does.
    """
    found = Crawled()
    waiting = list(starts)
    while waiting:
        address = waiting.pop()
        if address in found.bodies or not address.startswith(below):
            continue
        answer = client.get(address)
        found.bodies[address] = answer.content
        found.statuses[address] = answer.status_code
        headers = {n: v for n, v in answer.headers.items() if n.lower() not in OWN_HEADERS}
        found.bodies[f"{address} (headers)"] = json.dumps(headers).encode()
        kind = answer.headers.get("content-type", "")
        if kind.startswith(("text/html", "text/css")):
            links = _LINKS.findall(answer.content) + _CSS_LINKS.findall(answer.content)
            waiting += [str(answer.url.join(link.decode()).path) for link in links]
    return found
