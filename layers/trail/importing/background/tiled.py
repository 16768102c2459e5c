"""Tiles of an MBTiles or a GeoPackage, on the grid that web maps share.

MBTiles counts rows from the south (its specification, 1.3), GeoPackage from the north
(OGC 12-128r18, 2.2.7).
"""

from __future__ import annotations

import math
import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

from layers.errors import Refused
from layers.trail.background import media_type, open_to_read

HALF_WORLD_M = math.pi * 6378137.0
"""Half the width of Web Mercator (EPSG:3857)."""

_WEB_MERCATOR = (3857, 900913, 102100)
_MAX_TILE_BYTES = 2_000_000


@dataclass(frozen=True)
class _Level:
    """One zoom: the number in the file, and how to get from the file's columns and rows to ours."""

    number: int
    column: int
    row: int
    from_south: bool


class TileFile:
    """An open file of tiles."""

    def __init__(
        self,
        path: Path,
        connection: sqlite3.Connection,
        table: str,
        levels: Mapping[int, _Level],
        attribution: str,
    ) -> None:
        self.attribution = attribution
        self.zooms = sorted(levels)
        self._path = path
        self._connection = connection
        self._table = table.replace('"', '""')
        self._levels = levels

    def count(self, zoom: int, columns: range, rows: range) -> int:
        """How many tiles there are within some columns and rows, counted from the north."""
        (count,) = self._select("count(*)", zoom, columns, rows).fetchone()
        return int(count)

    def within(self, zoom: int, columns: range, rows: range) -> Iterator[tuple[int, int, bytes]]:
        """Column, row from the north, and picture of each of them.

        Raises
        ------
        Refused
            A tile is not a picture that a browser shows, or is larger than one is.
        """
        level = self._levels[zoom]
        for column, row, data in self._select(
            "tile_column, tile_row, tile_data", zoom, columns, rows
        ):
            if not isinstance(data, bytes) or media_type(data) is None:
                kind = "tiles of lines and areas" if _is_packed(data) else "something else"
                raise _refused(self._path, f"Expected pictures (PNG, JPEG or WebP), got {kind}")
            if len(data) > _MAX_TILE_BYTES:
                raise _refused(self._path, f"Expected tiles of up to 2 MB, got {len(data):,} bytes")
            ours = 2**zoom - 1 - row if level.from_south else row + level.row
            yield column + level.column, ours, data

    def _select(self, what: str, zoom: int, columns: range, rows: range) -> sqlite3.Cursor:
        level = self._levels[zoom]
        low, high = rows[0] - level.row, rows[-1] - level.row
        if level.from_south:
            low, high = 2**zoom - 1 - rows[-1], 2**zoom - 1 - rows[0]
        return self._connection.execute(
            f'SELECT {what} FROM "{self._table}" WHERE zoom_level = ? AND tile_column'
            " BETWEEN ? AND ? AND tile_row BETWEEN ? AND ?",
            (level.number, columns[0] - level.column, columns[-1] - level.column, low, high),
        )


@contextmanager
def open_tiles(path: Path, *, layer: str | None = None) -> Iterator[TileFile]:
    """Open an MBTiles or a GeoPackage with tiles.

    Parameters
    ----------
    layer
        Which table of a GeoPackage; None = the only one.

    Raises
    ------
    Refused
        It cannot be read, holds no pictures, or has another grid.
    """
    try:
        with closing(open_to_read(path)) as connection:
            tables = {name for (name,) in connection.execute("SELECT name FROM sqlite_schema")}
            if {"metadata", "tiles"} <= tables:
                yield _mbtiles(path, connection)
            elif "gpkg_tile_matrix" in tables:
                yield _geopackage(path, connection, layer)
            else:
                raise _refused(path, "Expected an MBTiles or a GeoPackage with tiles, got neither")
    except (sqlite3.Error, OverflowError, TypeError) as error:
        raise _refused(path, f"It cannot be read as tiles, it may be damaged ({error})") from None


def _mbtiles(path: Path, connection: sqlite3.Connection) -> TileFile:
    values = dict(connection.execute("SELECT name, value FROM metadata"))
    zooms = [zoom for (zoom,) in connection.execute("SELECT DISTINCT zoom_level FROM tiles")]
    levels = {zoom: _Level(zoom, 0, 0, from_south=True) for zoom in zooms if 0 <= zoom <= 30}
    return TileFile(path, connection, "tiles", levels, str(values.get("attribution") or ""))


def _geopackage(path: Path, connection: sqlite3.Connection, layer: str | None) -> TileFile:
    found = connection.execute(
        "SELECT s.table_name, r.organization_coordsys_id, s.min_x, s.max_y"
        " FROM gpkg_tile_matrix_set s JOIN gpkg_spatial_ref_sys r USING (srs_id)"
    ).fetchall()
    chosen = [one for one in found if layer in (None, one[0])]
    if len(chosen) != 1:
        names = ", ".join(str(one[0]) for one in found) or "none"
        raise _refused(path, f"Expected one layer of tiles (--layer NAME), got {names}")
    ((table, crs, min_x, max_y),) = chosen
    levels: dict[int, _Level] = {}
    for number, wide, pixel_m in connection.execute(
        "SELECT zoom_level, tile_width, pixel_x_size FROM gpkg_tile_matrix WHERE table_name = ?",
        (table,),
    ):
        tile_m = wide * pixel_m
        zoom = math.log2(2 * HALF_WORLD_M / tile_m) if tile_m > 0 else math.nan
        offsets = (min_x + HALF_WORLD_M) / tile_m, (HALF_WORLD_M - max_y) / tile_m
        on_grid = all(abs(one - round(one)) < 0.01 for one in (zoom, *offsets))
        if crs not in _WEB_MERCATOR or not on_grid:
            raise _refused(
                path,
                "Expected tiles on the grid of web maps (EPSG:3857), got another grid; "
                "gdal_translate -of MBTILES makes them",
            )
        levels[round(zoom)] = _Level(number, round(offsets[0]), round(offsets[1]), from_south=False)
    return TileFile(path, connection, table, levels, "")


def _is_packed(data: object) -> bool:
    return isinstance(data, bytes) and data.startswith(b"\x1f\x8b")


def _refused(path: Path, sentence: str) -> Refused:
    return Refused(f"{path.name}: {sentence}.", ())
