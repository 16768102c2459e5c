"""Invented pictures of the demo's ground: an MBTiles, a GeoPackage of tiles and a GeoTIFF."""

from __future__ import annotations

import io
import math
import sqlite3
from contextlib import closing
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from layers.trail.background import Bounds, tile_span

HALF_WORLD_M = math.pi * 6378137.0


def photograph(wide: int, high: int, seed: int = 1) -> NDArray[np.uint8]:
    """A picture that has something everywhere: high, wide, three bands."""
    random = np.random.default_rng(seed)
    coarse = random.integers(40, 170, (high // 16 + 2, wide // 16 + 2, 3), np.uint8)
    whole = np.kron(coarse, np.ones((16, 16, 1), np.uint8))[:high, :wide]
    whole[..., 1] = np.clip(whole[..., 1] + 30, 0, 255)
    return whole.astype(np.uint8)


def _png(seed: int) -> bytes:
    kept = io.BytesIO()
    Image.fromarray(photograph(256, 256, seed)).save(kept, "PNG")
    return kept.getvalue()


def make_mbtiles(path: Path, bounds: Bounds, zooms: range, *, attribution: str = "") -> int:
    """Write an MBTiles of some bounds; how many tiles it has."""
    tiles = [_png(seed) for seed in range(7)]
    count = 0
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute("CREATE TABLE metadata (name TEXT, value TEXT)")
        connection.execute("INSERT INTO metadata VALUES ('attribution', ?)", (attribution,))
        connection.execute(
            "CREATE TABLE tiles (zoom_level INT, tile_column INT, tile_row INT, tile_data BLOB)"
        )
        for zoom in zooms:
            columns, rows = tile_span(bounds, zoom)
            for column in columns:
                for row in rows:
                    picture = tiles[(column + 3 * row) % len(tiles)]
                    place = (zoom, column, 2**zoom - 1 - row)
                    connection.execute("INSERT INTO tiles VALUES (?, ?, ?, ?)", (*place, picture))
                    count += 1
    return count


def make_tile_geopackage(
    path: Path, bounds: Bounds, zoom: int, *, crs: int = 3857, zooms: int = 1
) -> int:
    """Write a GeoPackage with the tiles of a zoom, cut off as a GIS does, and of those after it;
    how many it has.
    """
    columns, rows = tile_span(bounds, zoom)
    size_m = 2 * HALF_WORLD_M / 2**zoom
    min_x, max_y = columns[0] * size_m - HALF_WORLD_M, HALF_WORLD_M - rows[0] * size_m
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.executescript(
            "CREATE TABLE gpkg_spatial_ref_sys (srs_id INT, organization_coordsys_id INT);"
            "CREATE TABLE gpkg_tile_matrix_set"
            " (table_name TEXT, srs_id INT, min_x REAL, min_y REAL, max_x REAL, max_y REAL);"
            "CREATE TABLE gpkg_tile_matrix (table_name TEXT, zoom_level INT, tile_width INT,"
            " pixel_x_size REAL);"
            "CREATE TABLE ground (zoom_level INT, tile_column INT, tile_row INT, tile_data BLOB);"
        )
        connection.execute("INSERT INTO gpkg_spatial_ref_sys VALUES (?, ?)", (crs, crs))
        connection.execute(
            "INSERT INTO gpkg_tile_matrix_set VALUES ('ground', ?, ?, 0, 0, ?)", (crs, min_x, max_y)
        )
        tiles = 0
        for level in range(zooms):
            pixel_m = size_m / 256 / 2**level
            connection.execute(
                "INSERT INTO gpkg_tile_matrix VALUES ('ground', ?, 256, ?)", (level, pixel_m)
            )
            for column in range(len(columns) * 2**level):
                for row in range(len(rows) * 2**level):
                    place = (level, column, row, _png(column))
                    connection.execute("INSERT INTO ground VALUES (?, ?, ?, ?)", place)
                    tiles += 1
    return tiles


def make_geotiff(path: Path, bounds: Bounds, *, bands: int = 3, kind: str = "uint8") -> None:
    """Write a GeoTIFF of some bounds, in degrees, 500 by 500 pixels."""
    import rasterio  # noqa: PLC0415, optional
    from affine import Affine  # noqa: PLC0415

    west, south, east, north = bounds
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        width=500,
        height=500,
        count=bands,
        dtype=kind,
        crs="EPSG:4326",
        transform=Affine((east - west) / 500, 0.0, west, 0.0, (south - north) / 500, north),
    ) as picture:
        picture.write(photograph(500, 500).transpose(2, 0, 1)[:bands].astype(kind))
