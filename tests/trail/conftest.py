"""A small trail file for every test that asks for one."""

from collections.abc import Iterator
from pathlib import Path

import pytest
import shapely

from layers.trail.settings import Settings
from layers.trail.store import Trail


@pytest.fixture
def trail(tmp_path: Path) -> Iterator[Trail]:
    """An invented trail of three boxes, a path with heights, a place and a zone."""
    path = tmp_path / "trail.gpkg"
    with Trail.create(path, Settings("Alderbeck", "America/New_York")) as made:
        made.add_rows(
            "boxes",
            [
                {"box": box, "section": "Pond Meadow", "geometry": shapely.Point(lon, 42.6)}
                for box, lon in (("A1", -77.90), ("A2", -77.91), ("B1", -77.92))
            ],
        )
        path_line = shapely.LineString([(-77.9, 42.6, 210.0), (-77.91, 42.6, 214.0)])
        made.add_rows("paths", [{"name": "Pond Loop", "open_to": "all", "geometry": path_line}])
        made.add_rows(
            "places", [{"name": "Barn", "kind": "start", "geometry": shapely.Point(-77.9, 42.6)}]
        )
        made.add_rows(
            "zones",
            [{"name": "Pond", "kind": "water", "geometry": shapely.box(-78, 42, -77.9, 43)}],
        )
        yield made
