"""Trails of a few boxes along a lane, made for one case each; all invented."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import shapely

from layers.trail.settings import Settings
from layers.trail.store import Trail

LAT = 42.6
STEP = 0.001
"""Degrees of longitude between places; about 82 m."""


def at(east: float, north: float = 0.0) -> shapely.Point:
    return shapely.Point(-77.9 + STEP * east, LAT + STEP * north)


def line(*places: tuple[float, float]) -> shapely.LineString:
    return shapely.LineString([at(*place) for place in places])


LANE = {"name": "Lane", "kind": "footpath", "geometry": line((0, 0), (9, 0))}
GATE = {"name": "Gate", "kind": "start", "geometry": at(0)}


def make_trail(
    path: Path,
    *,
    boxes: Mapping[str, shapely.Point | None],
    paths: Sequence[Mapping[str, Any]] = (LANE,),
    places: Sequence[Mapping[str, Any]] = (GATE,),
    zones: Sequence[Mapping[str, Any]] = (),
    visits: Sequence[Mapping[str, Any]] = (),
) -> Path:
    with Trail.create(path, Settings(name="Small", timezone="America/New_York")) as trail:
        rows = [{"box": box, "geometry": point} for box, point in boxes.items()]
        for table, given in (
            ("boxes", rows),
            ("paths", paths),
            ("places", places),
            ("zones", zones),
            ("visits", visits),
        ):
            if given:
                trail.add_rows(table, given)
    return path
