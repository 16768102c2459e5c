"""GeoJSON (RFC 7946) of a collection."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import orjson
import shapely

from layers.trail.exporting.collection import Collection, Row, Source


def feature(row: Row) -> dict[str, Any]:
    """One row as a feature; its shape is JSON already, for `orjson`."""
    return {
        "type": "Feature",
        "id": row.id,
        "geometry": None if row.shape is None else orjson.Fragment(shapely.to_geojson(row.shape)),
        "properties": dict(row.values),
    }


def write_geojson(path: Path, source: Source, collection: Collection) -> None:
    """Write a collection as one feature collection."""
    with path.open("wb") as file:
        file.writelines(geojson_of(source, collection))


def geojson_of(source: Source, collection: Collection) -> Iterator[bytes]:
    """One feature collection, a page at a time; what it shows is in foreign members."""
    about = {
        "name": collection.name,
        "title": f"{source.title}: {collection.title}",
        "description": collection.note,
        "statement": source.statement,
        "licence": source.licence,
        **source.about,
        "columns": {column.name: column.description for column in collection.fields},
    }
    yield orjson.dumps({"type": "FeatureCollection", **about})[:-1] + b',"features":['
    between = b"\n"
    for page in collection.pages():
        yield between + b",\n".join(orjson.dumps(feature(row)) for row in page)
        between = b",\n"
    yield b"\n]}\n"
