"""Arrow tables with a geometry, as GeoParquet has them: written by geopandas, column by column.

Only the geometry goes through geopandas: its frames would turn whole numbers with gaps into
fractions, and words into plain text.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any

import geopandas as gpd
import shapely
from pyarrow import parquet

_GEOPARQUET = "1.1.0"
_OWN = ("geometry", "bbox")


def with_geometry(table: Any, shapes: Sequence[Any]) -> Any:
    """A table with shapes in EPSG:4326, a covering box of each, and GeoParquet's description."""
    held = io.BytesIO()
    frame = gpd.GeoDataFrame(geometry=list(shapes), crs="EPSG:4326")
    frame.to_parquet(held, index=False, schema_version=_GEOPARQUET, write_covering_bbox=True)
    given = parquet.read_table(held)
    for name in _OWN:
        table = table.append_column(given.schema.field(name), given.column(name))
    return table.replace_schema_metadata({b"geo": given.schema.metadata[b"geo"]})


def geometry_anew(table: Any) -> Any:
    """The table with what GeoParquet says of all its shapes made anew, as after rows went; a table
    without a geometry is given back as it is.
    """
    if "geometry" not in table.schema.names:
        return table
    shapes = shapely.from_wkb(table.column("geometry").to_pylist())
    return with_geometry(table.drop_columns(list(_OWN)), shapes)
