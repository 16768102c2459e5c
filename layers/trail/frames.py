"""Rows of a trail file as frames."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import geopandas as gpd
import pandas as pd

from layers.trail.field import Table
from layers.trail.geometry import from_blobs


def frame_of(rows: Sequence[tuple[Any, ...]], table: Table) -> gpd.GeoDataFrame:
    """A frame of rows that hold `fid`, the columns of a table, and a shape's blob.

    Numbers are float64, NaN where missing; all else is text or None.
    """
    cells = list(zip(*rows, strict=True)) or [()] * (len(table.fields) + 2)
    columns = {"fid": pd.Series(cells[0], dtype="int64")}
    for field, values in zip(table.fields, cells[1:-1], strict=True):
        kind = "float64" if field.storage in ("INTEGER", "REAL") else "object"
        columns[field.name] = pd.Series(values, dtype=kind)
    geometry = from_blobs(list(cells[-1]))
    return gpd.GeoDataFrame(pd.DataFrame(columns), geometry=geometry, crs="EPSG:4326")
