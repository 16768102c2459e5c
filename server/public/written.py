"""The public data as files: GeoJSON, CSV, what the columns mean, and the terms."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import orjson

from layers.publishing import Cell, Nest, PublicView


@dataclass(frozen=True)
class Column:
    """A column of a public table, and what it means."""

    name: str
    meaning: str


CELLS = (
    Column("cell", "id of the cell: its middle and its size in degrees; it never changes"),
    Column("lon", "longitude of the middle of the cell, degrees, WGS84"),
    Column("lat", "latitude of the middle of the cell, degrees, WGS84"),
    Column("size_deg", "width and height of the cell in degrees"),
    Column("uncertainty_m", "metres around the middle within which all of the cell lies"),
    Column("boxes", "nest boxes that stand in the cell"),
    Column("nested", "of these, boxes with a told nest this season"),
    Column("in_use", "of these, boxes with a nest not told yet; blank where that is withheld"),
    Column("nests", "told nests of all seasons"),
    Column("species", "species of these nests, joined by ;"),
    Column("generalised", "how the place was generalised"),
)
NESTS = (
    Column("nest", "id of the nest among the told ones"),
    Column("cell", "id of the cell it was in"),
    Column("season", "season, named after the year it begins in"),
    Column("species", "species; blank where it was not recorded"),
    Column("ended", "month in which the nest ended"),
    Column("fate", "fledged: at least one young left; failed: none did; unknown"),
    Column("eggs", "most eggs counted; blank where not counted or withheld"),
    Column("young", "most living young counted; blank where not counted or withheld"),
    Column("fledged", "young that left; blank where not known or withheld"),
)
NO_LICENCE = (
    "No licence has been named for this data. Ask the keepers of the trail before you use it "
    "for anything besides looking at it."
)


def _cell_values(cell: Cell) -> list[Any]:
    return [
        cell.cell,
        cell.lon,
        cell.lat,
        cell.size_deg,
        cell.uncertainty_m,
        cell.boxes,
        cell.nested,
        cell.in_use,
        cell.nests,
        ";".join(cell.species),
        f"to a grid cell of {cell.size_deg:g} degrees",
    ]


def _nest_values(nest: Nest) -> list[Any]:
    return [getattr(nest, column.name) for column in NESTS]


def geojson(view: PublicView) -> bytes:
    """The cells as a feature collection (RFC 7946), with what to know in further members."""
    names = [column.name for column in CELLS]
    return orjson.dumps(
        {
            "type": "FeatureCollection",
            "title": view.trail,
            "licence": view.licence or NO_LICENCE,
            "told_until": view.told_until,
            "generalised": view.generalised,
            "withheld": view.withheld,
            "features": [
                {
                    "type": "Feature",
                    "id": cell.cell,
                    "geometry": {"type": "Point", "coordinates": [cell.lon, cell.lat]},
                    "properties": dict(zip(names, _cell_values(cell), strict=True)),
                }
                for cell in view.cells
            ],
        }
    )


def cells_csv(view: PublicView) -> bytes:
    """One row a cell."""
    return _csv(CELLS, (_cell_values(cell) for cell in view.cells))


def nests_csv(view: PublicView) -> bytes:
    """One row a told nest."""
    return _csv(NESTS, (_nest_values(nest) for nest in view.nests))


def dictionary_csv() -> bytes:
    """What each column of the tables means."""
    tables = (("cells", CELLS), ("nests", NESTS))
    columns = (Column("table", ""), Column("column", ""), Column("meaning", ""))
    return _csv(
        columns,
        ([table, column.name, column.meaning] for table, listed in tables for column in listed),
    )


def about_txt(view: PublicView) -> bytes:
    """The terms, and what is generalised and withheld: to be read beside the tables."""
    lines = [
        f"{view.trail}: what the public may see",
        "",
        f"Licence: {view.licence or NO_LICENCE}",
        "",
        *view.statements,
        "",
        "cells.csv and data.geojson hold one row a cell, nests.csv one row a nest;",
        "dictionary.csv says what the columns mean.",
    ]
    return ("\n".join(lines) + "\n").encode()


def _csv(columns: Sequence[Column], rows: Iterable[Sequence[Any]]) -> bytes:
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow([column.name for column in columns])
    writer.writerows(rows)
    return text.getvalue().encode()
