"""Cuts a GeoTIFF into tiles: a program of its own, run by `sealed`, as GDAL keeps off live trails.

`geotiff FILE OUT WEST SOUTH EAST NORTH MAX_ZOOM` writes an MBTiles to OUT, and prints a
sentence where it cannot. MAX_ZOOM is "-" for that of the picture's own resolution.
"""

from __future__ import annotations

import math
import sqlite3
import sys
from contextlib import closing
from pathlib import Path
from typing import Any

from layers.trail.background import Bounds, tile_span
from layers.trail.importing.background.tiled import HALF_WORLD_M

TILE_PX = 256
MAX_TILES = 20_000
"""About 120 MB at 6 kB a tile, as photographs took as WebP (measured)."""

_WEBP_QUALITY = 75
_COARSER = 6
"""Zooms above the finest: the finest of a trail of 2 km is 18, and at 12 it is in one tile."""


class Unfit(Exception):
    """A sentence on why a picture cannot be used."""


def cut(file: str, out: Path, bounds: Bounds, max_zoom: int | None) -> None:
    """Write the tiles of a picture that touch some bounds."""
    try:
        import rasterio  # noqa: PLC0415, optional, and slow to load
        from rasterio.errors import RasterioError  # noqa: PLC0415
        from rasterio.warp import transform_bounds  # noqa: PLC0415
    except ModuleNotFoundError:
        raise Unfit(
            "GeoTIFF needs rasterio to be installed, as by pip install boxround[raster]"
        ) from None
    try:
        with rasterio.open(file, driver="GTiff") as source:
            _check(source)
            own: Bounds = transform_bounds(source.crs, "EPSG:4326", *source.bounds)
            common = (
                *(max(a, b) for a, b in zip(own[:2], bounds[:2], strict=True)),
                *(min(a, b) for a, b in zip(own[2:], bounds[2:], strict=True)),
            )
            west, south, east, north = common
            if west >= east or south >= north:
                at = f"{own[0]:.3f} to {own[2]:.3f} east, {own[1]:.3f} to {own[3]:.3f} north"
                raise Unfit(f"It shows {at}, nothing of the trail")
            finest = _finest(source, own) if max_zoom is None else max_zoom
            spans = {
                zoom: tile_span((west, south, east, north), zoom)
                for zoom in range(max(0, finest - _COARSER), finest + 1)
            }
            count = sum(len(columns) * len(rows) for columns, rows in spans.values())
            if count > MAX_TILES:
                raise Unfit(
                    f"It would make {count:,} tiles; with --max-zoom {finest - 1} a quarter"
                )
            _write(source, out, spans)
    except RasterioError as error:
        raise Unfit(f"It cannot be read as a GeoTIFF, it may be damaged ({error})") from None


def _check(source: Any) -> None:
    if source.crs is None:
        raise Unfit("It has no reference system; gdal_translate -a_srs gives it one")
    if any(kind != "uint8" for kind in source.dtypes):
        raise Unfit(
            "Expected 8 bits a band, got more; gdal_translate -ot Byte -scale makes a picture"
        )


def _finest(source: Any, own: Bounds) -> int:
    """The zoom whose pixels are about as large as the picture's, at its middle."""
    across_m = math.radians(own[2] - own[0]) * HALF_WORLD_M / math.pi
    return max(0, min(20, round(math.log2(2 * HALF_WORLD_M / TILE_PX / (across_m / source.width)))))


def _write(source: Any, out: Path, spans: dict[int, tuple[range, range]]) -> None:
    with closing(sqlite3.connect(out)) as connection, connection:
        connection.execute("CREATE TABLE metadata (name TEXT, value TEXT)")
        connection.execute(
            "CREATE TABLE tiles (zoom_level INTEGER, tile_column INTEGER, tile_row INTEGER,"
            " tile_data BLOB, PRIMARY KEY (zoom_level, tile_column, tile_row))"
        )
        for zoom, (columns, rows) in spans.items():
            for column in columns:
                for row in rows:
                    picture = _tile(source, zoom, column, row)
                    if picture is not None:
                        place = (zoom, column, 2**zoom - 1 - row)
                        connection.execute(
                            "INSERT INTO tiles VALUES (?, ?, ?, ?)", (*place, picture)
                        )


def _tile(source: Any, zoom: int, column: int, row: int) -> bytes | None:
    """A tile as WebP; None where the picture has nothing there."""
    import numpy as np  # noqa: PLC0415
    from rasterio.enums import ColorInterp, Resampling  # noqa: PLC0415
    from rasterio.io import MemoryFile  # noqa: PLC0415
    from rasterio.transform import from_origin  # noqa: PLC0415
    from rasterio.vrt import WarpedVRT  # noqa: PLC0415

    size_m = 2 * HALF_WORLD_M / 2**zoom
    corner = column * size_m - HALF_WORLD_M, HALF_WORLD_M - row * size_m
    palette = source.colorinterp[0] == ColorInterp.palette
    has_alpha = source.colorinterp[-1] == ColorInterp.alpha
    with WarpedVRT(
        source,
        crs="EPSG:3857",
        transform=from_origin(*corner, size_m / TILE_PX, size_m / TILE_PX),
        width=TILE_PX,
        height=TILE_PX,
        add_alpha=not has_alpha,
        resampling=Resampling.nearest if palette else Resampling.bilinear,
    ) as warped:
        bands = warped.read()
    alpha, colours = bands[-1], bands[:-1][:3]
    if not alpha.any():
        return None
    if palette:
        table = np.zeros((256, 3), np.uint8)
        for number, colour in source.colormap(1).items():
            table[number] = colour[:3]
        colours = table[colours[0]].transpose(2, 0, 1)
    elif len(colours) < 3:
        colours = np.repeat(colours[:1], 3, axis=0)
    whole = colours if alpha.all() else np.concatenate([colours, alpha[None]])
    with MemoryFile() as memory:
        with memory.open(
            driver="WEBP",
            width=TILE_PX,
            height=TILE_PX,
            count=len(whole),
            dtype="uint8",
            quality=_WEBP_QUALITY,
        ) as picture:
            picture.write(whole)
        return bytes(memory.read())


def main() -> None:
    """Run as a program."""
    import warnings  # noqa: PLC0415

    warnings.simplefilter("ignore")  # a tile has no reference system of its own
    file, out, *numbers, max_zoom = sys.argv[1:]
    west, south, east, north = map(float, numbers)
    try:
        finest = None if max_zoom == "-" else int(max_zoom)
        cut(file, Path(out), (west, south, east, north), finest)
    except Unfit as error:
        print(error)


if __name__ == "__main__":
    main()
