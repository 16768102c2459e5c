"""CSV (RFC 4180) of a collection, with a data dictionary beside it.

The dictionary is a metadata file of "CSV on the Web" (W3C Recommendation, 2015), under
the name that it says a reader looks for: the table's own with `-metadata.json` behind. Tables of
several trails can be put one below the other: each row names its trail, which is part of the key.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import orjson

from layers.trail.exporting.collection import Collection, Row, Source
from layers.trail.exporting.darwin import TERMS as DARWIN_CORE
from layers.trail.exporting.harmless import harmless
from layers.trail.field import Field, Storage, column

_DATATYPES: Mapping[Storage, str] = {
    "TEXT": "string",
    "INTEGER": "integer",
    "REAL": "number",
    "DATE": "date",
    "DATETIME": "dateTime",
}
_POINT = (
    column("lon", "number", "longitude in degrees, WGS 84"),
    column("lat", "number", "latitude in degrees, WGS 84"),
)
_SHAPE = (column("wkt", "line", "shape as well-known text, longitude and latitude in WGS 84"),)


TERMS: Mapping[str, str] = {
    "trail": "datasetID",
    "visit_id": "eventID",
    "nest": "eventID",
    "box": "locationID",
    "cell": "locationID",
    "seen_on": "eventDate",
    "observer": "recordedBy",
    "species": "vernacularName",
    "habitat": "habitat",
    "uncertainty_m": "coordinateUncertaintyInMeters",
    "generalised": "dataGeneralizations",
    "lon": "decimalLongitude",
    "lat": "decimalLatitude",
    "wkt": "footprintWKT",
}
"""Columns that are what a term of Darwin Core is (https://dwc.tdwg.org/list/)."""


def dictionary_path(path: Path) -> Path:
    """Where the data dictionary of a table is."""
    return path.with_name(f"{path.name}-metadata.json")


def write_csv(path: Path, source: Source, collection: Collection) -> None:
    """Write a collection as a table, and its dictionary beside it."""
    with path.open("wb") as file:
        file.writelines(csv_of(source, collection))
    dictionary_path(path).write_bytes(dictionary_of(source, collection, url=path.name))


def csv_of(source: Source, collection: Collection) -> Iterator[bytes]:
    """The table in UTF-8, a page at a time; missing cells are empty, and text is `harmless`."""
    page = io.StringIO(newline="")
    writer = csv.writer(page)
    writer.writerow([column.name for column in columns_of(source, collection)])
    of_trail = [value for _, value in source.of_trail]
    for rows in collection.pages():
        writer.writerows(
            [*map(harmless, row.values.values()), *_place(row, collection), *of_trail]
            for row in rows
        )
        yield page.getvalue().encode()
        page.seek(page.truncate(0))
    yield page.getvalue().encode()


def dictionary_of(source: Source, collection: Collection, *, url: str) -> bytes:
    """The data dictionary of a table that a reader finds at `url`."""
    described: dict[str, Any] = {
        "@context": "http://www.w3.org/ns/csvw",
        "url": url,
        "dc:title": f"{source.title}: {collection.title}",
        "dc:description": f"{collection.note} {source.statement}",
        **({} if source.licence is None else {"dc:license": source.licence}),
        "dialect": {"encoding": "utf-8", "header": True},
        "tableSchema": {
            "columns": [_described(column) for column in columns_of(source, collection)],
            **({"primaryKey": ["trail", *collection.key]} if collection.key else {}),
        },
    }
    return orjson.dumps(described, option=orjson.OPT_INDENT_2)


def _described(column: Field) -> dict[str, Any]:
    """A column as CSV on the Web describes it; a unit as schema.org names it."""
    base = _DATATYPES[column.storage]
    bounds = {"minimum": column.least, "maximum": column.most}
    return {
        "name": column.name,
        "titles": column.label,
        "datatype": {"base": base, **bounds} if column.between else base,
        "required": column.required,
        "dc:description": column.description,
        **({"propertyUrl": f"{DARWIN_CORE}{TERMS[column.name]}"} if column.name in TERMS else {}),
        **({"schema:unitText": column.unit} if column.unit else {}),
    }


def columns_of(source: Source, collection: Collection) -> tuple[Field, ...]:
    """The columns of the table: those of the collection, its place, and those of the trail."""
    place = _POINT if collection.geometry == "POINT" else _SHAPE
    return (*collection.fields, *place, *(column for column, _ in source.of_trail))


def _place(row: Row, collection: Collection) -> list[Any]:
    if row.shape is None:
        return [None, None] if collection.geometry == "POINT" else [None]
    return [row.shape.x, row.shape.y] if collection.geometry == "POINT" else [row.shape.wkt]
