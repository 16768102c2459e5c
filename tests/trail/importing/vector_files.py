"""Invented vector files of every format, written by GDAL or by hand."""

from __future__ import annotations

import json
import warnings
import zipfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import geopandas as gpd
from pyproj import Transformer
from shapely.geometry.base import BaseGeometry

# One place of the invented reserve, in UTM zone 18N.
EAST, NORTH = Transformer.from_crs("EPSG:4326", "EPSG:32618", always_xy=True).transform(-77.9, 42.6)

GPX = """<?xml version="1.0"?>
<gpx version="1.1" creator="Alderbeck" xmlns="http://www.topografix.com/GPX/1/1">{}</gpx>"""
KML = """<?xml version="1.0"?>
<kml xmlns="http://www.opengis.net/kml/2.2"><Document>{}</Document></kml>"""


def by_gdal(
    path: Path,
    shapes: Sequence[BaseGeometry | None],
    *,
    crs: str | None = "EPSG:4326",
    **columns: Sequence[Any],
) -> Path:
    """A file of the format that the suffix says."""
    frame = gpd.GeoDataFrame(dict(columns), geometry=list(shapes), crs=crs)
    with warnings.catch_warnings():
        # Shapefiles shorten names, and may state no system; that is what is tested.
        warnings.simplefilter("ignore")
        if path.suffix == ".parquet":
            frame.to_parquet(path)
            return path
        frame.to_file(path, **({"layer": path.stem} if path.suffix == ".gpkg" else {}))
    return path


def zipped(shapefile: Path, *, folder: str = "") -> Path:
    """A shapefile with its companions in a zip file."""
    path = shapefile.with_suffix(".zip")
    with zipfile.ZipFile(path, "w") as archive:
        for part in sorted(shapefile.parent.glob(f"{shapefile.stem}.*")):
            if part != path:
                archive.write(part, f"{folder}{part.name}")
    return path


def geojson(path: Path, *features: tuple[Mapping[str, Any], Mapping[str, Any] | None]) -> Path:
    """GeoJSON as a person may have made it; each feature is properties and geometry."""
    made = [
        {"type": "Feature", "properties": properties, "geometry": geometry}
        for properties, geometry in features
    ]
    path.write_text(json.dumps({"type": "FeatureCollection", "features": made}), encoding="utf-8")
    return path


def waypoint(name: str, lon: float, lat: float, more: str = "") -> str:
    return f'<wpt lat="{lat}" lon="{lon}"><name>{name}</name>{more}</wpt>'


def segment(*vertices: Sequence[float]) -> str:
    """A track segment; a vertex of three numbers has a height."""
    points = [
        f'<trkpt lat="{lat}" lon="{lon}">{"".join(f"<ele>{z}</ele>" for z in height)}</trkpt>'
        for lon, lat, *height in vertices
    ]
    return f"<trkseg>{''.join(points)}</trkseg>"
