"""Reads one foreign vector file and prints it as lines of JSON; run by `sealed`.

Runs in a process of its own, for two reasons. A file of unknown origin may crash
or stall the library that reads it. And that library brings its own SQLite, which must
never open a file in the process that serves a trail.

The first line holds the columns and the reference system, each further one a feature,
the last one what could not be read. Needs nothing of Boxround, so it starts fast.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

import fiona

_BATCH_ROWS = 1000
_GPX_LAYERS = {"Point": ("waypoints",), "LineString": ("tracks", "routes")}
_GPX_VERTICES = {
    "tracks": ("track_points", "track_fid", "track_seg_id"),
    "routes": ("route_points", "route_fid", None),
}


class Unusable(Exception):
    """The file cannot be used: what was expected, and what came."""

    def __init__(self, expected: str, came: str) -> None:
        self.expected = expected
        self.came = came
        super().__init__(f"expected {expected}, got {came}")


def _opener(path: str, driver: str) -> Callable[..., Any]:
    def opened(layer: str | int | None = None, **options: Any) -> Any:
        # KML is read well but not listed by fiona, since it cannot append to it.
        return fiona.open(
            path,
            layer=layer,
            driver=driver,
            enabled_drivers=[driver],
            allow_unsupported_drivers=True,
            **options,
        )

    return opened


def _layers(opened: Callable[..., Any]) -> dict[str, str]:
    """Names of the layers and the kind of shape each says it holds."""
    found = {}
    # fiona takes layer 0 for "no layer named", so the first is opened that way.
    for layer in (None, *range(1, 1000)):
        try:
            with opened(layer) as collection:
                found[collection.name] = collection.schema["geometry"].removeprefix("3D ")
        except ValueError:
            break
    return found


def _chosen(opened: Callable[..., Any], driver: str, table: str, wanted: str) -> list[str]:
    with opened():
        pass
    if driver == "GPX":
        if wanted not in _GPX_LAYERS:
            raise Unusable(f"a format that holds {table}", "GPX")
        return list(_GPX_LAYERS[wanted])
    found = _layers(opened)
    if driver == "KML" or len(found) == 1:
        return list(found)
    if table in found:
        return [table]
    fitting = [name for name, kind in found.items() if kind in (wanted, f"Multi{wanted}")]
    if len(fitting) != 1:
        raise Unusable(
            f"one layer of {table}, or one that is named {table}",
            f"layers {', '.join(found)}" if found else "no layer",
        )
    return fitting


def _gpx_lines(opened: Callable[..., Any], layer: str) -> Iterator[Any]:
    """Tracks or routes; a part keeps its heights only where every vertex has one.

    GDAL writes 0 for a missing height, so the vertices are looked through first. A track whose
    vertices have times was recorded and not drawn; its type says so.
    """
    vertices, line_key, part_key = _GPX_VERTICES[layer]
    flat, timed = set(), set()
    with opened(vertices) as collection:
        for vertex in collection:
            if vertex.properties.get("time") is not None:
                timed.add(vertex.properties[line_key])
            if vertex.properties["ele"] is None:
                part = vertex.properties[part_key] if part_key else 0
                flat.add((vertex.properties[line_key], part))
    with opened(layer, ELE_AS_25D="YES") as collection:
        for feature in collection:
            properties = dict(feature.properties)
            if int(feature.id) in timed:
                properties["type"] = ", ".join(filter(None, (properties["type"], "recorded")))
            if feature.geometry is None:
                yield properties, {"type": "MultiLineString", "coordinates": []}
                continue
            shape = feature.geometry.__geo_interface__
            several = shape["type"] == "MultiLineString"
            lines = [
                [vertex[:2] for vertex in line] if (int(feature.id), part) in flat else line
                for part, line in enumerate(
                    shape["coordinates"] if several else [shape["coordinates"]]
                )
            ]
            # A device writes a part of one point, or of none, where it was switched on and off.
            walked = [line for line in lines if len(line) > 1]
            yield properties, {"type": "MultiLineString", "coordinates": walked}


def _features(opened: Callable[..., Any], layer: str) -> Iterator[tuple[Mapping[str, Any], Any]]:
    with opened(layer) as collection:
        for feature in collection:
            shape = feature.geometry
            yield feature.properties, None if shape is None else shape.__geo_interface__


def _plain_geojson(path: str) -> Iterator[tuple[Mapping[str, Any], Any]]:
    """Features by the JSON library, where a column holds numbers here and text there.

    fiona takes such a column for JSON and stops at the first text.
    """
    with Path(path).open(encoding="utf-8-sig") as file:
        content = json.load(file)
    for feature in content.get("features", [content]):
        yield feature.get("properties") or {}, feature.get("geometry")


def _emit(line: Mapping[str, Any]) -> None:
    sys.stdout.write(json.dumps(line, default=str) + "\n")


def read(path: str, driver: str, table: str, wanted: str) -> None:
    """Print the file; `wanted` is the kind of shape, `table` what it will become."""
    opened = _opener(path, driver)
    layers = _chosen(opened, driver, table, wanted)
    fields: dict[str, str] = {}
    system, total = "", 0
    for layer in layers:
        with opened(layer) as collection:
            fields |= collection.schema["properties"]
            system = collection.crs_wkt
            try:
                total += len(collection)
            except TypeError:
                # GPX does not say how many features it holds.
                total = -1
    mixed = driver == "GeoJSON" and "json" in fields.values()
    unread: set[str] = set()
    header = list(fields)
    _emit({"header": header, "crs": system, "total": total, "layers": layers})
    for layer in layers:
        if mixed:
            features = _plain_geojson(path)
        elif driver == "GPX" and wanted == "LineString":
            features = _gpx_lines(opened, layer)
        else:
            features = _features(opened, layer)
        for number, (properties, shape) in enumerate(features, start=1):
            if (
                driver == "GPX"
                and shape["type"] == "MultiLineString"
                and not any(shape["coordinates"])
            ):
                unread.add(f"{layer} without two points")
                continue
            unread |= properties.keys() - fields.keys()
            cells = [properties.get(name) for name in header]
            _emit({"layer": layer, "row": number, "cells": cells, "shape": shape})
    if driver == "KML" and not path.startswith("/vsizip/") and _has_more(path):
        unread.add("ExtendedData")
    _emit({"unread": sorted(unread)})


def read_parquet(path: str) -> None:
    """Print a GeoParquet file (geoparquet.org, version 1.1), a batch of rows at a time."""
    try:
        import shapely  # noqa: PLC0415
        from pyarrow import parquet  # noqa: PLC0415, optional, and slow to load
    except ImportError:
        needed = "pyarrow to be installed, as by pip install boxround[parquet]"
        raise Unusable(needed, "an installation without it") from None
    with parquet.ParquetFile(path) as file:
        held = json.loads((file.schema_arrow.metadata or {}).get(b"geo", b"null"))
        if not isinstance(held, dict):
            raise Unusable("a Parquet file that describes its shapes (GeoParquet)", "one without")
        shapes = held["primary_column"]
        column = held["columns"][shapes]
        if column["encoding"] != "WKB":
            raise Unusable("shapes as well-known binary (WKB)", str(column["encoding"]))
        names = [name for name in file.schema_arrow.names if name != shapes]
        header = [name for name in names if name not in held["columns"]]
        # A file that states no system means longitude and latitude; null stands for none known.
        system = column.get("crs", "OGC:CRS84")
        stated = system if isinstance(system, str) else json.dumps(system) if system else ""
        total = file.metadata.num_rows
        _emit({"header": header, "crs": stated, "total": total, "layers": [shapes]})
        number = 0
        for batch in file.iter_batches(_BATCH_ROWS, columns=[*header, shapes], use_threads=False):
            for row in batch.to_pylist():
                number += 1
                content = row.pop(shapes)
                shape = None if content is None else shapely.from_wkb(content).__geo_interface__
                cells = [row[name] for name in header]
                _emit({"layer": shapes, "row": number, "cells": cells, "shape": shape})
    _emit({"unread": []})


def _has_more(path: str) -> bool:
    return b"<ExtendedData" in Path(path).read_bytes()


def main() -> None:
    path, driver, table, wanted = sys.argv[1:]
    try:
        if driver == "GeoParquet":
            read_parquet(path)
        else:
            read(path, driver, table, wanted)
    except Unusable as error:
        _emit({"expected": error.expected, "came": error.came})
    except MemoryError:
        _emit({"expected": "a file that fits into 4 GB of memory", "came": "a larger one"})
    except Exception:
        # Whatever the libraries raise speaks of their own insides.
        came = "a damaged file, or one of another format"
        _emit({"expected": f"a file that can be read as {driver}", "came": came})


if __name__ == "__main__":
    main()
