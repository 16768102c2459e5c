"""A made trail of any size, for measuring: the demo's nests repeated onto many boxes."""

from __future__ import annotations

from typing import Any
from zoneinfo import ZoneInfo

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from data_demo.demo import TIMEZONE, YEARS
from data_demo.simulate import deal_cases, simulate_season
from layers.trail.coding import code_visits
from layers.trail.schema import TABLES
from layers.trail.visits import Visits
from layers.trail.words import ACTIONS, SIGNS

# Boxes whose seasons are made up one by one; more boxes repeat these.
_PATTERN_BOXES = 2_000

# Boxes stand in trails of this many, spread over this region; degrees.
_BOXES_A_TRAIL = 50
_WEST, _SOUTH, _EAST, _NORTH = -79.0, 41.0, -73.0, 45.0
_TRAIL_REACH_DEG = 0.01

_ROW_COLUMNS = (
    *("day", "minute", "species", "nest", "eggs", "eggs_warm", "young", "young_days", "dead_young"),
    *("adult", "signs", "actions", "opened", "observer", "entered_s", "replaced_s"),
)


def many_boxes(
    n_boxes: int, *, seasons: int = 1, seed: int, interval_days: int = 15
) -> tuple[gpd.GeoDataFrame, Visits]:
    """Boxes as `Trail.boxes()` gives them, and visits to them.

    Parameters
    ----------
    seasons
        How many, the last in 2026.
    interval_days
        Days between rounds. At 15 a box has about ten visits a season, at 7 about 21.
    """
    pattern = _pattern(min(n_boxes, _PATTERN_BOXES), seasons, seed, interval_days)
    size = len(pattern.boxes)
    times = -(-n_boxes // size)
    box = np.concatenate([pattern.box + size * i for i in range(times)])
    kept = int(np.searchsorted(box, n_boxes))
    columns: dict[str, NDArray[Any]] = {
        name: np.tile(getattr(pattern, name), times)[:kept] for name in _ROW_COLUMNS
    }
    columns["box"] = box[:kept]
    boxes = _boxes(n_boxes, seed)
    visits = Visits.from_columns(
        columns,
        boxes=boxes["box"].tolist(),
        species_names=pattern.species_names,
        observers=pattern.observers,
        signs_words=SIGNS,
        actions_words=ACTIONS,
    )
    return boxes, visits


def _pattern(size: int, seasons: int, seed: int, interval_days: int) -> Visits:
    ids = [f"pattern {i}" for i in range(size)]
    rows = [
        row
        for year in range(YEARS[-1] - seasons + 1, YEARS[-1] + 1)
        for row in simulate_season(
            ids,
            year=year,
            seed=seed,
            cases=deal_cases(ids, seed=seed + year),
            interval_days=interval_days,
            timezone=TIMEZONE,
        ).visits
    ]
    return code_visits(
        rows, boxes=ids, timezone=ZoneInfo(TIMEZONE), signs_words=SIGNS, actions_words=ACTIONS
    )


def _boxes(n_boxes: int, seed: int) -> gpd.GeoDataFrame:
    random = np.random.default_rng(seed)
    n_trails = -(-n_boxes // _BOXES_A_TRAIL)
    trail = np.arange(n_boxes) // _BOXES_A_TRAIL
    lon = random.uniform(_WEST, _EAST, n_trails)[trail]
    lat = random.uniform(_SOUTH, _NORTH, n_trails)[trail]
    lon += random.normal(0.0, _TRAIL_REACH_DEG, n_boxes)
    lat += random.normal(0.0, _TRAIL_REACH_DEG, n_boxes)
    frame = pd.DataFrame({"fid": np.arange(1, n_boxes + 1)})
    for column in TABLES["boxes"].fields:
        numeric = column.storage in ("REAL", "INTEGER")
        missing = np.full(n_boxes, np.nan) if numeric else np.full(n_boxes, None, object)
        frame[column.name] = missing
    frame["box"] = pd.Series([f"B{i:06d}" for i in range(n_boxes)], dtype=object)
    frame["section"] = pd.Series([f"Trail {i + 1}" for i in trail], dtype=object)
    frame["hole_mm"] = random.choice((32.0, 38.0), n_boxes)
    return gpd.GeoDataFrame(
        frame, geometry=gpd.points_from_xy(np.round(lon, 7), np.round(lat, 7)), crs="EPSG:4326"
    )
