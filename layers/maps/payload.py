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
from numpy.typing import NDArray

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

CARRY = 255
"""A gap of so many days in a season's payload is no entry: its days count on."""

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
    """One season's changes, packed; `boxes` as many as the base payload has.

    Columns: `changes` how many entries each box has in `gap` and `state`; `gap` days from the
    box's entry before, the first from the season's first day; `state` the position in
    `occupancy`, `species` and `fate`, which hold each distinct state once. `visits` and
    `visit_gap` in the same way. An entry with a gap of `CARRY` is none: its days count on.
    """
    end, visits = timeline.offset[boxes], timeline.visit_offset[boxes]
    columns = (timeline.occupancy[:end], timeline.species[:end], timeline.fate[:end])
    states, state = np.unique(np.ravel_multi_index(columns, (256, 256, 256)), return_inverse=True)
    occupancy, species, fate = np.unravel_index(states, (256, 256, 256))
    changes, gap, far = _gaps(timeline.offset[: boxes + 1], timeline.day[:end])
    visit_counts, visit_gap, _ = _gaps(
        timeline.visit_offset[: boxes + 1], timeline.visit_day[:visits]
    )
    return pack(
        {
            "season": season,
            "first_day": day_of(timeline.first_day).isoformat(),
            "days": timeline.days,
        },
        {
            "changes": changes,
            "gap": gap,
            "state": np.insert(state, far, 0).astype(np.min_scalar_type(len(states))),
            "occupancy": occupancy.astype(np.uint8),
            "species": species.astype(np.uint8),
            "fate": fate.astype(np.uint8),
            "visits": visit_counts,
            "visit_gap": visit_gap,
        },
    )


def _gaps(
    offset: NDArray[np.int32], day: NDArray[np.int16]
) -> tuple[NDArray[np.uint16], NDArray[np.uint8], NDArray[np.intp]]:
    """Entries of each box, days between them, and before which entries one was put to carry."""
    gap = np.diff(day, prepend=np.int16(0))
    first = offset[:-1][np.diff(offset) > 0]
    gap[first] = day[first]
    far = np.flatnonzero(gap >= CARRY)
    gap[far] -= CARRY
    offset = offset + np.searchsorted(far, offset)
    return np.diff(offset).astype(np.uint16), np.insert(gap, far, CARRY).astype(np.uint8), far


def due_payload(listed: Iterable[Due], *, boxes: Sequence[str], on: date) -> bytes:
    """What is due on one day, packed: for each box its code, its reasons, and until which day.

    Parameters
    ----------
    listed
        As `layers.nesting.due.due` gives them, for `on`.
    boxes
        Those of the base payload, in the same order.

    Columns: `due` holds the codes of the theme; `reason` the position of their kinds in
    `reasons`, empty where there are none; `until` days since 1970-01-01, -1 = open.
    """
    of_box = {one.box: one for one in listed}
    found = [of_box.get(box) for box in boxes]
    kinds = ["" if one is None else ", ".join(r.kind for r in one.reasons) for one in found]
    reason, reasons = pd.factorize(np.array(kinds, dtype=object))
    return pack(
        {"on": on.isoformat()},
        {
            "due": np.array([due_code(one) for one in found], np.uint8),
            "reason": reason.astype(np.uint16),
            "reasons": reasons.tolist(),
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
