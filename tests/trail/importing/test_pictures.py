"""A trail's own background, from an MBTiles, a GeoPackage of tiles and a GeoTIFF."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from shapely import Point

from layers.errors import NotKnown, Refused
from layers.trail.background import (
    Bounds,
    background_of,
    background_path,
    background_tile,
    background_within,
    media_type,
    tile_span,
)
from layers.trail.importing.background import adding
from layers.trail.importing.background.adding import (
    add_background,
    attribution_in,
    remove_background,
    surroundings,
)
from layers.trail.settings import Settings
from layers.trail.store import Trail
from tests.trail.importing.pictures import make_geotiff, make_mbtiles, make_tile_geopackage

WHOSE: dict[str, Any] = {"attribution": "Invented Survey", "licence": "CC0"}
ELSEWHERE: Bounds = (10.0, 50.0, 10.01, 50.01)


@pytest.fixture
def trail(tmp_path: Path) -> Iterator[Trail]:
    with Trail.create(tmp_path / "t.gpkg", Settings(name="T", timezone="UTC")) as made:
        places = {"A": Point(-77.95, 42.6), "B": Point(-77.945, 42.603)}
        made.add_rows("boxes", [{"box": box, "geometry": at} for box, at in places.items()])
        yield made


def refusal(file: Path, trail: Trail, **values: object) -> str:
    with pytest.raises(Refused) as caught:
        add_background(file, trail, **(WHOSE | values))
    assert not background_path(trail.path).exists()
    assert list(trail.path.parent.glob(".boxround-*")) == []
    return str(caught.value)


def test_columns_and_rows_are_those_of_web_maps() -> None:
    # The tile of Greenwich at zoom 10 (counted by hand: 0 east is the middle of 1024 columns).
    assert tile_span((0.0, 51.48, 0.0, 51.48), 10) == (range(512, 513), range(340, 341))
    assert tile_span((-180.0, -90.0, 180.0, 90.0), 1) == (range(2), range(2))


def test_only_the_surroundings_of_the_trail_are_taken(trail: Trail, tmp_path: Path) -> None:
    around = surroundings(trail, around_m=1000.0)
    wide = (around[0] - 0.2, around[1] - 0.2, around[2] + 0.2, around[3] + 0.2)
    file = tmp_path / "county.mbtiles"
    total = make_mbtiles(file, wide, range(12, 15), attribution="Invented <Survey>")
    assert attribution_in(file) == "Invented <Survey>"
    version = trail.version()
    added = add_background(file, trail, **WHOSE)
    wanted = sum(len(c) * len(r) for c, r in (tile_span(around, zoom) for zoom in range(12, 15)))
    assert added.tiles == wanted < total
    assert trail.version() > version
    known = background_of(trail.path)
    assert known is not None
    assert (known.attribution, known.licence) == ("Invented Survey", "CC0")
    assert (known.min_zoom, known.max_zoom) == (12, 14)
    columns, rows = tile_span(around, 14)
    tile = background_tile(trail.path, 14, columns[0], rows[0])
    with closing(sqlite3.connect(file)) as source:
        (same,) = source.execute(
            "SELECT tile_data FROM tiles"
            " WHERE zoom_level = 14 AND tile_column = ? AND tile_row = ?",
            (columns[0], 2**14 - 1 - rows[0]),
        ).fetchone()
    assert tile == same
    assert background_tile(trail.path, 14, 0, 0) is None
    assert background_tile(trail.path, 99, 0, 0) is None
    sizes = list(background_within(trail.path, around))
    assert sum(len(one.tiles) for one in sizes) == added.tiles
    assert sum(one.size_bytes for one in sizes) == added.size_bytes
    remove_background(trail)
    assert background_of(trail.path) is None
    with pytest.raises(NotKnown, match="no background"):
        remove_background(trail)


def test_tiles_of_a_geopackage_keep_their_places(trail: Trail, tmp_path: Path) -> None:
    around = surroundings(trail, around_m=300.0)
    count = make_tile_geopackage(tmp_path / "tiles.gpkg", around, 15)
    assert add_background(tmp_path / "tiles.gpkg", trail, around_m=300.0, **WHOSE).tiles == count
    columns, rows = tile_span(around, 15)
    tiles = {zoom.zoom: set(zoom.tiles) for zoom in background_within(trail.path, around)}
    assert tiles == {15: {(column, row) for column in columns for row in rows}}


def test_a_geotiff_is_cut_into_tiles(trail: Trail, tmp_path: Path) -> None:
    pytest.importorskip("rasterio")
    around = surroundings(trail, around_m=100.0)
    make_geotiff(tmp_path / "ground.tif", around)
    added = add_background(tmp_path / "ground.tif", trail, around_m=100.0, max_zoom=16, **WHOSE)
    assert added.max_zoom == 16
    columns, rows = tile_span(around, 16)
    middle = columns[len(columns) // 2], rows[len(rows) // 2]
    tile = background_tile(trail.path, 16, *middle)
    assert tile is not None and media_type(tile) == "image/webp"


def test_a_foreign_a_broken_and_a_huge_file_get_a_sentence(
    trail: Trail, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    around = surroundings(trail, around_m=1000.0)
    make_mbtiles(tmp_path / "far.mbtiles", ELSEWHERE, range(12, 15))
    assert "no tile of the trail's surroundings" in refusal(tmp_path / "far.mbtiles", trail)
    make_tile_geopackage(tmp_path / "other.gpkg", around, 15, crs=32618)
    assert "EPSG:3857" in refusal(tmp_path / "other.gpkg", trail)
    assert "--layer" in refusal(tmp_path / "other.gpkg", trail, layer="none")
    (tmp_path / "text.mbtiles").write_text("no database, but long enough to be one" * 40)
    assert "may be damaged" in refusal(tmp_path / "text.mbtiles", trail)
    make_mbtiles(tmp_path / "cut.mbtiles", around, range(12, 15))
    with (tmp_path / "cut.mbtiles").open("r+b") as file:
        file.truncate(20_000)
    assert "may be damaged" in refusal(tmp_path / "cut.mbtiles", trail)
    with closing(sqlite3.connect(tmp_path / "table.mbtiles")) as connection:
        connection.execute("CREATE TABLE t (a)")
    assert "got neither" in refusal(tmp_path / "table.mbtiles", trail)
    make_mbtiles(tmp_path / "lines.mbtiles", around, range(12, 13))
    with closing(sqlite3.connect(tmp_path / "lines.mbtiles")) as connection, connection:
        connection.execute("UPDATE tiles SET tile_data = x'1f8b08'")
    assert "tiles of lines and areas" in refusal(tmp_path / "lines.mbtiles", trail)
    make_mbtiles(tmp_path / "many.mbtiles", around, range(12, 15))
    monkeypatch.setattr(adding, "MAX_TILES", 5)
    assert "Give --max-zoom 13" in refusal(tmp_path / "many.mbtiles", trail)


@pytest.mark.long
def test_a_geotiff_that_cannot_be_used_gets_a_sentence(trail: Trail, tmp_path: Path) -> None:
    pytest.importorskip("rasterio")
    around = surroundings(trail, around_m=100.0)
    make_geotiff(tmp_path / "far.tif", ELSEWHERE)
    assert "nothing of the trail" in refusal(tmp_path / "far.tif", trail)
    make_geotiff(tmp_path / "deep.tif", around, bands=1, kind="uint16")
    assert "8 bits a band" in refusal(tmp_path / "deep.tif", trail)
    broken = tmp_path / "broken.tif"
    make_geotiff(broken, around)
    broken.write_bytes(broken.read_bytes()[:200_000])
    assert "may be damaged" in refusal(broken, trail)


def test_an_empty_trail_has_no_surroundings(tmp_path: Path) -> None:
    make_mbtiles(tmp_path / "far.mbtiles", ELSEWHERE, range(12, 13))
    with Trail.create(tmp_path / "e.gpkg", Settings(name="E", timezone="UTC")) as empty:
        assert "add them first" in refusal(tmp_path / "far.mbtiles", empty)
