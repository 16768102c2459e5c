"""GeoJSON (RFC 7946) of a collection."""

from __future__ import annotations

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
    """Write a collection as one feature collection; what it shows stands in foreign members."""
    about = {
        "name": collection.name,
        "title": f"{source.title}: {collection.title}",
        "description": collection.note,
        "statement": source.statement,
        "licence": source.licence,
        "columns": {column.name: column.description for column in collection.fields},
    }
    head = orjson.dumps({"type": "FeatureCollection", **about})
    with path.open("wb") as file:
        file.write(head[:-1] + b',"features":[')
        between = b"\n"
        for page in collection.pages():
            for row in page:
                file.write(between + orjson.dumps(feature(row)))
                between = b",\n"
        file.write(b"\n]}\n")
