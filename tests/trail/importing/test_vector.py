"""The reader of vector files: one driver, a process of its own, clear errors."""

from __future__ import annotations

import os
import subprocess
import sys
import warnings
import zipfile
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pytest
import shapely

from layers.errors import Fault, Refused
from layers.trail.importing import vector
from layers.trail.importing.source import Row
from layers.trail.importing.vector import DRIVERS, open_vector
from tests.trail.importing import vector_files
from tests.trail.importing.imports import having, written

POINT = shapely.Point(-77.9, 42.6)


def rows(path: Path, kind: str = "boxes") -> list[Row | Fault]:
    with open_vector(path, kind=kind, progress=lambda done, total: None) as table:
        return list(table.rows)


def worker(path: Path, text: str) -> Path:
    """A reader that behaves as the text says."""
    return written(path / "reader.py", text)


@pytest.mark.parametrize("suffix", DRIVERS)
@pytest.mark.parametrize(
    "damaged",
    [b"", b"\0\1\2 garbage", b"<gpx", b'{"type": "FeatureColl', b"SQLite format 3\0", b"PK\3\4"],
)
def test_what_is_not_of_its_suffix_is_refused(tmp_path: Path, suffix: str, damaged: bytes) -> None:
    path = tmp_path / f"b{suffix}"
    path.write_bytes(damaged)
    with pytest.raises(Refused, match=having(f"b{suffix} was refused; nothing was added")):
        rows(path)


def test_a_file_of_another_format_than_its_suffix_is_not_read(tmp_path: Path) -> None:
    sound = vector_files.by_gdal(tmp_path / "b.gpkg", [POINT], box=["A1"])
    assert len(rows(sound)) == 1
    with pytest.raises(Refused, match="Expected a file that can be read as GPX"):
        rows(sound.rename(tmp_path / "b.gpx"))


def test_a_file_that_points_elsewhere_is_not_followed(tmp_path: Path) -> None:
    vector_files.by_gdal(tmp_path / "b.gpkg", [POINT], box=["A1"])
    layer = '<OGRVRTLayer name="b"><SrcDataSource>b.gpkg</SrcDataSource></OGRVRTLayer>'
    path = written(tmp_path / "b.json", f"<OGRVRTDataSource>{layer}</OGRVRTDataSource>")
    with pytest.raises(Refused, match="Expected a file that can be read as GeoJSON"):
        rows(path)


def layered(path: Path, **layers: shapely.Geometry) -> Path:
    for name, shape in layers.items():
        frame = gpd.GeoDataFrame({"box": [name]}, geometry=[shape], crs="EPSG:4326")
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            frame.to_file(path, layer=name)
    return path


def test_of_several_layers_the_one_of_the_right_kind_is_read(tmp_path: Path) -> None:
    line = shapely.LineString([(-77.9, 42.6), (-77.8, 42.6)])
    path = layered(tmp_path / "b.gpkg", ways=line, sites=POINT)
    (row,) = rows(path)
    assert isinstance(row, Row)
    assert row.cells == ["sites"]


def test_of_several_layers_the_one_named_like_the_kind_is_read(tmp_path: Path) -> None:
    path = layered(tmp_path / "b.gpkg", old=POINT, boxes=POINT)
    (row,) = rows(path)
    assert isinstance(row, Row)
    assert row.cells == ["boxes"]


def test_several_layers_of_which_none_is_the_one_are_refused(tmp_path: Path) -> None:
    path = layered(tmp_path / "b.gpkg", old=POINT, new=POINT)
    with pytest.raises(Refused, match="one layer of boxes, or one that is named boxes, got layers"):
        rows(path)


def test_a_zip_file_must_hold_one_shapefile(tmp_path: Path) -> None:
    path = tmp_path / "b.zip"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("readme.txt", "nothing here")
    with pytest.raises(Refused, match="holds one shapefile, got 0 shapefiles"):
        rows(path)


def test_a_zip_file_in_a_folder_named_like_one_is_read(tmp_path: Path) -> None:
    folder = tmp_path / "old.zip {1}"
    folder.mkdir()
    shapefile = vector_files.by_gdal(folder / "b.shp", [POINT], box=["A1"])
    assert len(rows(vector_files.zipped(shapefile))) == 1


def test_a_crash_of_the_reader_is_a_clear_error(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = "import os\nprint('{\"header\":', end='', flush=True)\nos.abort()\n"
    monkeypatch.setattr(vector, "_WORKER", worker(tmp_path, text))
    with pytest.raises(Refused, match="got one that crashes the library that reads it"):
        rows(written(tmp_path / "b.gpx", "<gpx/>"))


def test_a_crash_amid_the_features_is_a_clear_error(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = (
        'print(\'{"header": [], "crs": "", "total": 2, "layers": ["b"]}\')\n'
        'print(\'{"layer": "b", "row": 1, "cells": [], "shape": null}\')\n'
    )
    monkeypatch.setattr(vector, "_WORKER", worker(tmp_path, text))
    with pytest.raises(Refused, match="got one that crashes the library that reads it"):
        rows(written(tmp_path / "b.gpx", "<gpx/>"))


def test_a_reader_that_is_silent_for_too_long_is_ended(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pid = tmp_path / "pid"
    text = (
        "import os, pathlib, time\n"
        f"pathlib.Path({str(pid)!r}).write_text(str(os.getpid()))\n"
        "time.sleep(600)\n"
    )
    monkeypatch.setattr(vector, "_WORKER", worker(tmp_path, text))
    monkeypatch.setattr(vector, "TIMEOUT_S", 2.0)
    with pytest.raises(Refused, match="got no answer for 2 seconds"):
        rows(written(tmp_path / "b.gpx", "<gpx/>"))
    with pytest.raises(ProcessLookupError):
        os.kill(int(pid.read_text()), 0)


def test_a_reader_that_is_left_early_is_ended(tmp_path: Path) -> None:
    points = "".join(vector_files.waypoint(str(i), -77.9, 42.6) for i in range(5_000))
    path = written(tmp_path / "b.gpx", vector_files.GPX.format(points))
    with open_vector(path, kind="boxes", progress=lambda done, total: None) as table:
        first = next(iter(table.rows))
    assert isinstance(first, Row)
    assert list(table.rows) == []


def test_the_reader_needs_nothing_of_the_program_and_imports_nothing_from_its_folder() -> None:
    script = vector._WORKER.read_text(encoding="utf-8")
    assert "layers" not in {
        line.split()[1].split(".")[0]
        for line in script.splitlines()
        if line.startswith(("import ", "from "))
    }
    done = subprocess.run(
        [sys.executable, "-P", vector._WORKER, "nowhere.gpx", "GPX", "boxes", "Point"],
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.startswith('{"expected": "a file that can be read as GPX"')


def test_progress_is_told_in_features(tmp_path: Path) -> None:
    points = [shapely.Point(-77.9, 42.6 + i / 10_000) for i in range(1200)]
    path = vector_files.by_gdal(tmp_path / "b.gpkg", points, box=[str(i) for i in range(1200)])
    told: list[tuple[int, int | None]] = []
    with open_vector(
        path, kind="boxes", progress=lambda d, total: told.append((d, total))
    ) as table:
        assert len(list(table.rows)) == 1200
    assert told == [(0, 1200), (500, 1200), (1000, 1200), (1200, 1200)]


def test_a_parquet_file_shows_its_rows_its_system_and_what_has_no_shape(tmp_path: Path) -> None:
    path = vector_files.by_gdal(
        tmp_path / "b.parquet", [POINT, None], box=["A1", "A2"], hole_mm=[32.0, None]
    )
    with open_vector(path, kind="boxes", progress=lambda done, total: None) as table:
        found = [
            (row.cells, None if row.shape is None else shapely.geometry.shape(dict(row.shape)))
            for row in table.rows
            if isinstance(row, Row)
        ]
    assert table.header == ("box", "hole_mm")
    assert found == [(["A1", 32.0], POINT), (["A2", None], None)]
    assert table.crs is not None and '"WGS 84' in table.crs


def test_a_parquet_file_without_shapes_is_refused(tmp_path: Path) -> None:
    pd.DataFrame({"box": ["A1"]}).to_parquet(tmp_path / "b.parquet")
    with pytest.raises(Refused, match="describes its shapes"):
        rows(tmp_path / "b.parquet")
