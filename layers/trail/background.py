"""The trail's own background: pictures of its ground as tiles, in a file beside the trail.

The file is an MBTiles (github.com/mapbox/mbtiles-spec, 1.3), so any GIS opens it. It is beside
the trail and not in it, so that backups, which hold what cannot be had again, stay small.
Tiles are read by sqlite3 alone.
"""

from __future__ import annotations

import math
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote

ENDING = ".background.mbtiles"
"""Ends the name of the file, after the trail's."""

MAX_LATITUDE = 85.0511287798
"""Web Mercator ends here (EPSG:3857)."""

Bounds = tuple[float, float, float, float]
"""West, south, east, north in degrees (WGS 84)."""

# What a tile begins with: PNG (W3C, 5.2), JPEG (ITU-T T.81, B.1.1.3), WebP (RFC 9649, 2.4).
_KINDS = {b"\x89PNG": "image/png", b"\xff\xd8\xff": "image/jpeg", b"RIFF": "image/webp"}


@dataclass(frozen=True)
class Background:
    """What there is: its zooms and bounds, whose it is, and a name that changes with the file."""

    attribution: str
    licence: str
    min_zoom: int
    max_zoom: int
    bounds: Bounds
    version: str


@dataclass(frozen=True)
class ZoomTiles:
    """The tiles of one zoom within some bounds: column and row from the north, and all bytes."""

    zoom: int
    tiles: tuple[tuple[int, int], ...]
    size_bytes: int


def background_path(trail: Path) -> Path:
    """Where the background of a trail is, or would be."""
    return trail.with_name(trail.name + ENDING)


def media_type(tile: bytes) -> str | None:
    """What kind of picture a tile is; None = none that a browser shows."""
    found = next((kind for start, kind in _KINDS.items() if tile.startswith(start)), None)
    return None if found == "image/webp" and tile[8:12] != b"WEBP" else found


def tile_span(bounds: Bounds, zoom: int) -> tuple[range, range]:
    """Columns and rows, from the north, of the tiles that touch some bounds."""
    west, south, east, north = bounds
    return range(_column(west, zoom), _column(east, zoom) + 1), range(
        _row(north, zoom), _row(south, zoom) + 1
    )


def _column(lon: float, zoom: int) -> int:
    across = 1 << zoom
    return min(across - 1, max(0, math.floor((lon + 180) / 360 * across)))


def _row(lat: float, zoom: int) -> int:
    down = 1 << zoom
    sine = math.sin(math.radians(max(-MAX_LATITUDE, min(MAX_LATITUDE, lat))))
    part = 0.5 - math.log((1 + sine) / (1 - sine)) / (4 * math.pi)
    return min(down - 1, max(0, math.floor(part * down)))


def open_to_read(path: Path) -> sqlite3.Connection:
    """A file of tiles, opened so that nothing is written and nothing in it is run."""
    connection = sqlite3.connect(f"file:{quote(str(path.absolute()))}?mode=ro", uri=True)
    connection.execute("PRAGMA trusted_schema = OFF")
    return connection


def background_of(trail: Path) -> Background | None:
    """The background of a trail; None where there is none that can be read."""
    path = background_path(trail)
    try:
        found = path.stat()
        with closing(open_to_read(path)) as connection:
            values = dict(connection.execute("SELECT name, value FROM metadata"))
        west, south, east, north = map(float, values["bounds"].split(","))
        return Background(
            values["attribution"],
            values["licence"],
            int(values["minzoom"]),
            int(values["maxzoom"]),
            (west, south, east, north),
            f"{found.st_mtime_ns:x}",
        )
    except (OSError, sqlite3.Error, KeyError, ValueError):
        return None


def background_tile(trail: Path, zoom: int, column: int, row: int) -> bytes | None:
    """One tile, its row counted from the north; None where there is none."""
    if not 0 <= zoom <= 30:
        return None
    try:
        with closing(open_to_read(background_path(trail))) as connection:
            found = connection.execute(
                "SELECT tile_data FROM tiles WHERE zoom_level = ? AND tile_column = ?"
                " AND tile_row = ?",
                # MBTiles counts rows from the south.
                (zoom, column, 2**zoom - 1 - row),
            ).fetchone()
    except (sqlite3.Error, OverflowError):
        return None
    return None if found is None else bytes(found[0])


def background_within(trail: Path, bounds: Bounds) -> Iterator[ZoomTiles]:
    """The tiles that touch some bounds, by zoom: what a phone would keep, and how much that is."""
    known = background_of(trail)
    if known is None:
        return
    with closing(open_to_read(background_path(trail))) as connection:
        for zoom in range(known.min_zoom, known.max_zoom + 1):
            columns, rows = tile_span(bounds, zoom)
            top = 2**zoom - 1
            found = connection.execute(
                "SELECT tile_column, tile_row, length(tile_data) FROM tiles WHERE zoom_level = ?"
                " AND tile_column BETWEEN ? AND ? AND tile_row BETWEEN ? AND ?",
                (zoom, columns[0], columns[-1], top - rows[-1], top - rows[0]),
            ).fetchall()
            tiles = tuple((column, top - row) for column, row, _ in found)
            yield ZoomTiles(zoom, tiles, sum(size for *_, size in found))
