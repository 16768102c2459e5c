"""The public data as files for any web host: tables, what their columns mean, and the terms."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from functools import partial

from layers.publishing.tables import PublicSource
from layers.trail.exporting.collection import Collection
from layers.trail.exporting.geojson import geojson_of
from layers.trail.exporting.table import columns_of, csv_of, dictionary_of

ALWAYS = ("cells", "nests")
"""Tables that are given even without a row; the others only where something is released."""


def data_files(source: PublicSource) -> dict[str, Callable[[], bytes]]:
    """Name of each file -> what makes it: the bytes that `export --public` writes under it."""
    files: dict[str, Callable[[], bytes]] = {}
    for name in source.names:
        table = source.collection(name)
        if name in ALWAYS or len(table):
            files[f"{name}.csv"] = partial(_csv, source, table)
            files[f"{name}.csv-metadata.json"] = partial(
                dictionary_of, source, table, url=f"{name}.csv"
            )
            files[f"{name}.geojson"] = partial(_geojson, source, table)
    files["dictionary.csv"] = partial(_dictionary, source)
    files["about.txt"] = partial(_about, source)
    return files


def _csv(source: PublicSource, table: Collection) -> bytes:
    return b"".join(csv_of(source, table))


def _geojson(source: PublicSource, table: Collection) -> bytes:
    return b"".join(geojson_of(source, table))


def _dictionary(source: PublicSource) -> bytes:
    """The columns of all tables in one, for people."""
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(("table", "column", "meaning"))
    for name in source.names:
        columns = columns_of(source, source.collection(name))
        writer.writerows((name, column.name, column.description) for column in columns)
    return text.getvalue().encode()


def _about(source: PublicSource) -> bytes:
    lines = [
        f"{source.title}: what the public may see",
        "",
        f"Licence: {source.licence}",
        "",
        *source.view.statements,
        "",
        "Each table is there as CSV and as GeoJSON; dictionary.csv says what the columns mean.",
    ]
    return ("\n".join(lines) + "\n").encode()
