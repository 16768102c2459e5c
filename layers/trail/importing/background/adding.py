"""Adds a background to a trail: the tiles around it, with whose they are."""

from __future__ import annotations

import math
import signal
import sqlite3
import subprocess
from collections.abc import Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from layers.errors import NotKnown, Refused
from layers.trail.background import Bounds, background_path, tile_span
from layers.trail.importing.background.geotiff import MAX_TILES
from layers.trail.importing.background.tiled import TileFile, open_tiles
from layers.trail.importing.sealed import sealed
from layers.trail.store import Trail
from layers.trail.whole_files import OWNER_ONLY, passing_folder

PICTURES = (".tif", ".tiff")
AROUND_M = 1000.0
"""Ground around the trail that is kept too, unless another length is given: our choice."""

M_PER_DEGREE = 111_320.0
"""Length of a degree of the equator (WGS 84)."""

_READER = "layers.trail.importing.background.geotiff"
# GDAL maps large files into memory, so the limit of addresses is far above what it uses.
_MEMORY_BYTES, _PROCESSOR_S = 8_000_000_000, 1800


@dataclass(frozen=True)
class Added:
    """What was stored."""

    tiles: int
    min_zoom: int
    max_zoom: int
    size_bytes: int


def attribution_in(file: Path) -> str:
    """Whose the pictures are, where their file says so; else empty."""
    if file.suffix.lower() in PICTURES:
        return ""
    with open_tiles(file, layer=None) as tiles:
        return tiles.attribution


def surroundings(trail: Trail, *, around_m: float) -> Bounds:
    """The bounds of all boxes, paths, places and zones, and some ground around them.

    Raises
    ------
    Refused
        The trail has none of them yet.
    """
    frames = [trail.boxes(), trail.paths(), trail.places(), trail.zones()]
    corners = [frame.total_bounds for frame in frames if not frame.empty]
    corners = [one for one in corners if not any(math.isnan(number) for number in one)]
    if not corners:
        raise Refused(
            "The trail has no boxes or paths yet: add them first, so that the background can be "
            "cut to their surroundings.",
            (),
        )
    west, south = (min(float(one[at]) for one in corners) for at in (0, 1))
    east, north = (max(float(one[at]) for one in corners) for at in (2, 3))
    up = around_m / M_PER_DEGREE
    aside = up / max(0.05, math.cos(math.radians(max(abs(south), abs(north)))))
    return west - aside, south - up, east + aside, north + up


def add_background(
    file: Path,
    trail: Trail,
    *,
    attribution: str,
    licence: str,
    around_m: float = AROUND_M,
    max_zoom: int | None = None,
    layer: str | None = None,
) -> Added:
    """Store the tiles of a file around a trail as its background, in place of an earlier one.

    Raises
    ------
    Refused
        The file cannot be read, shows another place, or has too many tiles around the trail.
    """
    if not file.is_file():
        raise NotKnown(f"{file} is not there")
    bounds = surroundings(trail, around_m=around_m)
    with passing_folder(trail.path.parent) as folder:
        source = file
        if file.suffix.lower() in PICTURES:
            source = folder / "cut.mbtiles"
            _cut(file, source, bounds, max_zoom)
        made = folder / "background.mbtiles"
        with open_tiles(source, layer=layer) as tiles:
            zooms = [zoom for zoom in tiles.zooms if max_zoom is None or zoom <= max_zoom]
            added = _store(
                tiles, made, file=file, zooms=zooms, bounds=bounds, owner=(attribution, licence)
            )
        made.chmod(OWNER_ONLY)
        made.replace(background_path(trail.path))
    # Raises the trail's version, so that pages that were cached without it are made anew.
    trail.change_settings()
    return added


def remove_background(trail: Trail) -> None:
    """Remove it again.

    Raises
    ------
    NotKnown
        There is none.
    """
    try:
        background_path(trail.path).unlink()
    except FileNotFoundError:
        raise NotKnown("The trail has no background") from None
    trail.change_settings()


def _cut(file: Path, out: Path, bounds: Bounds, max_zoom: int | None) -> None:
    words = [
        str(file.absolute()),
        str(out),
        *map(repr, bounds),
        "-" if max_zoom is None else str(max_zoom),
    ]
    command = sealed(_READER, memory_bytes=_MEMORY_BYTES, processor_s=_PROCESSOR_S)
    found = subprocess.run([*command, *words], capture_output=True, text=True, check=False)
    if found.stdout.strip():
        raise Refused(f"{file.name}: {found.stdout.strip()}.", ())
    if found.returncode:
        why = "takes too long" if -found.returncode == signal.SIGXCPU else "cannot be read"
        raise Refused(f"{file.name}: It {why}; cut it to the trail with a GIS.", ())


def _store(
    tiles: TileFile,
    made: Path,
    *,
    file: Path,
    zooms: Sequence[int],
    bounds: Bounds,
    owner: tuple[str, str],
) -> Added:
    spans = {zoom: tile_span(bounds, zoom) for zoom in zooms}
    counts = {zoom: tiles.count(zoom, *span) for zoom, span in spans.items()}
    present = [zoom for zoom, count in counts.items() if count]
    if not present:
        raise Refused(f"{file.name}: It has no tile of the trail's surroundings.", ())
    total = sum(counts.values())
    if total > MAX_TILES:
        raise Refused(
            f"{file.name}: It has {total:,} tiles around the trail, too many for a phone (at most "
            f"{MAX_TILES:,}). Give --max-zoom {max(present) - 1}, or less ground with --around-m.",
            (),
        )
    size = 0
    with closing(sqlite3.connect(made)) as connection, connection:
        connection.execute("CREATE TABLE metadata (name TEXT PRIMARY KEY, value TEXT)")
        connection.execute(
            "CREATE TABLE tiles (zoom_level INTEGER, tile_column INTEGER, tile_row INTEGER,"
            " tile_data BLOB, PRIMARY KEY (zoom_level, tile_column, tile_row))"
        )
        picture = b""
        for zoom in present:
            for column, row, picture in tiles.within(zoom, *spans[zoom]):
                place = (zoom, column, 2**zoom - 1 - row)
                connection.execute(
                    "INSERT OR REPLACE INTO tiles VALUES (?, ?, ?, ?)", (*place, picture)
                )
                size += len(picture)
        values = {
            "name": file.stem,
            "format": {b"\x89": "png", b"\xff": "jpg"}.get(picture[:1], "webp"),
            "attribution": owner[0],
            "licence": owner[1],
            "minzoom": str(min(present)),
            "maxzoom": str(max(present)),
            "bounds": ",".join(map(str, bounds)),
        }
        connection.executemany("INSERT INTO metadata VALUES (?, ?)", values.items())
    return Added(total, min(present), max(present), size)
