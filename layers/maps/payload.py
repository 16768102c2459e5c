"""What the map's script draws from: the boxes, one season of changes, and the ground."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any

import geopandas as gpd
import numpy as np
import orjson
import pandas as pd
import shapely

from layers.maps.packing import BETWEEN_TEXTS, pack
from layers.maps.themes import THEMES
from layers.maps.themes.due import due_code
from layers.nesting.due import Due
from layers.nesting.histories import Histories
from layers.nesting.timeline import Timeline
from layers.trail.coding import day_number, day_of
from layers.trail.settings import Settings, season_of
from layers.trail.words import STAGES

NO_PLACE = np.iinfo(np.int32).min
"""Longitude and latitude of a box without a place."""

_PER_DEGREE = 1e7
"""Coordinates travel as whole numbers of 1e-7 degrees, about 1 cm; 32-bit floats would be
off by more than a metre."""


def _plain(texts: Iterable[str | None]) -> list[str]:
    plain = [text or "" for text in texts]
    if BETWEEN_TEXTS in "".join(plain):
        plain = [text.replace(BETWEEN_TEXTS, " ") for text in plain]
    return plain


def base_payload(
    boxes: gpd.GeoDataFrame, histories: Histories, *, settings: Settings, on: date
) -> bytes:
    """Boxes, themes and settings, packed.

    Parameters
    ----------
    boxes
        As `Trail.boxes()` gives them; the first boxes of `histories`, in the same order.
    on
        The day the map opens on.
    """
    seasons = histories.seasons()
    today = season_of(on, settings.season_starts)
    header = {
        "trail": settings.name,
        "units": settings.units,
        "visit_every_days": settings.visit_every_days,
        "on": on.isoformat(),
        "season": today,
        "seasons": sorted({*seasons, today}),
        "stages": list(STAGES),
        "themes": [_theme(name, histories) for name in THEMES],
    }
    points = boxes.geometry.to_numpy()
    placed = ~(shapely.is_missing(points) | shapely.is_empty(points))
    lon, lat = np.full(len(boxes), NO_PLACE), np.full(len(boxes), NO_PLACE)
    lon[placed] = np.rint(shapely.get_x(points[placed]) * _PER_DEGREE)
    lat[placed] = np.rint(shapely.get_y(points[placed]) * _PER_DEGREE)
    names: list[str] = _plain(boxes["section"].tolist())
    section, sections = pd.factorize(np.array(names, dtype=object), sort=True)
    return pack(
        header,
        {
            "lon": lon.astype(np.int32),
            "lat": lat.astype(np.int32),
            "box": _plain(boxes["box"].tolist()),
            "name": _plain(boxes["name"].tolist()),
            "sections": sections.tolist(),
            "section": section.astype(np.uint16),
        },
    )


def _theme(name: str, histories: Histories) -> dict[str, Any]:
    theme = THEMES[name]
    painted = theme.painted(histories)
    return {
        "name": theme.name,
        "title": theme.title,
        "column": theme.column,
        "day_by_day": theme.day_by_day,
        "class_of": list(painted.class_of),
        "symbols": [
            {"word": symbol.word, "shape": symbol.shape, "colour": symbol.colour}
            for symbol in painted.symbols
        ],
    }


def season_payload(timeline: Timeline, *, season: int, boxes: int) -> bytes:
    """One season's changes, packed; `boxes` as many as the base payload has."""
    changes, visits = timeline.offset[boxes], timeline.visit_offset[boxes]
    return pack(
        {
            "season": season,
            "first_day": day_of(timeline.first_day).isoformat(),
            "days": timeline.days,
        },
        {
            "offset": timeline.offset[: boxes + 1],
            "visit_offset": timeline.visit_offset[: boxes + 1],
            "day": timeline.day[:changes],
            "visit_day": timeline.visit_day[:visits],
            "occupancy": timeline.occupancy[:changes],
            "species": timeline.species[:changes],
            "fate": timeline.fate[:changes],
        },
    )


def due_payload(listed: Iterable[Due], *, boxes: Sequence[str], on: date) -> bytes:
    """What is due on one day, packed: for each box its code, its reasons, and until which day.

    Parameters
    ----------
    listed
        As `layers.nesting.due.due` gives them, for `on`.
    boxes
        Those of the base payload, in the same order.

    Columns: `due` holds the codes of the theme; `reasons` their kinds, empty
    where there are none; `until` days since 1970-01-01, -1 = open.
    """
    of_box = {one.box: one for one in listed}
    found = [of_box.get(box) for box in boxes]
    return pack(
        {"on": on.isoformat()},
        {
            "due": np.array([due_code(one) for one in found], np.uint8),
            "reasons": [
                "" if one is None else ", ".join(r.kind for r in one.reasons) for one in found
            ],
            "until": np.array(
                [
                    -1 if one is None or one.until is None else day_number(one.until)
                    for one in found
                ],
                np.int32,
            ),
        },
    )


_GROUND_COLUMNS: Mapping[str, tuple[str, ...]] = {
    "zones": ("name", "kind", "detail"),
    "paths": ("name", "kind", "open_to", "level"),
    "places": ("name", "kind"),
}


def ground_payload(
    *,
    paths: gpd.GeoDataFrame,
    places: gpd.GeoDataFrame,
    zones: gpd.GeoDataFrame,
    background: Mapping[str, Any] | None = None,
) -> bytes:
    """Paths, places and zones as three GeoJSON collections in one JSON object.

    `background` is where the tiles of the trail's own background are, and whose they are.
    """
    frames = {"zones": zones, "paths": paths, "places": places}
    collections = {name: _collection(frames[name], own) for name, own in _GROUND_COLUMNS.items()}
    return orjson.dumps(collections | ({} if background is None else {"background": background}))


def _collection(frame: gpd.GeoDataFrame, columns: tuple[str, ...]) -> dict[str, Any]:
    shapes = shapely.set_precision(shapely.force_2d(frame.geometry.to_numpy()), 1e-7)
    values = [frame[column].tolist() for column in columns]
    return {
        "type": "FeatureCollection",
        "features": [
            {
                "type": "Feature",
                "geometry": orjson.Fragment(geometry),
                "properties": {
                    name: None if cell != cell else cell  # noqa: PLR0124 - NaN is a missing number
                    for name, cell in zip(columns, cells, strict=True)
                },
            }
            for geometry, *cells in zip(shapely.to_geojson(shapes), *values, strict=True)
            if geometry is not None
        ],
    }
