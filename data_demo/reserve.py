"""Alderbeck Reserve: an invented reserve with a trail of 60 nest boxes.

Nothing of it is real. Its coordinates fall on farmland, chosen because a map needs
some; there is no such pond, wood, path or box there.

`reserve.geojson` holds its boxes, paths, places and zones, drawn for this project: lines
have the faults of lines drawn by hand (ends that stop short of the path that they meet,
crossings without a common point, a loop that comes back onto itself, a footbridge over a
lane). A feature's `table` says where its other properties belong.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from types import MappingProxyType
from typing import Any

import shapely

RESERVE_NAME = "Alderbeck Reserve"
_FILE = Path(__file__).parent / "reserve.geojson"

Row = dict[str, Any]


@dataclass(frozen=True)
class Section:
    """One part of the trail, and how often each species takes a box there."""

    name: str
    species_mix: Mapping[str, float]


SECTIONS = (
    Section(
        "Pond Meadow",
        MappingProxyType(
            {
                "tree swallow": 48.0,
                "eastern bluebird": 32.0,
                "house wren": 8.0,
                "black-capped chickadee": 6.0,
                "house sparrow": 4.0,
            }
        ),
    ),
    Section(
        "Orchard Edge",
        MappingProxyType(
            {
                "eastern bluebird": 46.0,
                "house sparrow": 18.0,
                "tree swallow": 14.0,
                "house wren": 12.0,
                "tufted titmouse": 6.0,
                "great crested flycatcher": 4.0,
            }
        ),
    ),
    Section(
        "North Hedge",
        MappingProxyType(
            {
                "house wren": 34.0,
                "eastern bluebird": 30.0,
                "tree swallow": 18.0,
                "black-capped chickadee": 12.0,
                "house sparrow": 6.0,
            }
        ),
    ),
    Section(
        "Mill Wood",
        MappingProxyType(
            {
                "black-capped chickadee": 38.0,
                "tufted titmouse": 24.0,
                "house wren": 18.0,
                "white-breasted nuthatch": 11.0,
                "great crested flycatcher": 9.0,
            }
        ),
    ),
)
"""The four sections, 15 boxes each."""

BOXES_A_SECTION = 15


@dataclass(frozen=True)
class Reserve:
    """The invented reserve as rows of a trail's tables, shapes in EPSG:4326."""

    boxes: tuple[Row, ...]
    paths: tuple[Row, ...]
    places: tuple[Row, ...]
    zones: tuple[Row, ...]


def read_reserve() -> Reserve:
    """The reserve; every call gives rows of its own."""
    tables: dict[str, list[Row]] = {"boxes": [], "paths": [], "places": [], "zones": []}
    for feature in json.loads(_FILE.read_text(encoding="utf-8"))["features"]:
        row = feature["properties"]
        for name in row.keys() & {"installed_on", "removed_on", "cleaned_on"}:
            row[name] = row[name] and date.fromisoformat(row[name])
        # Not `shapely.from_geojson`: GEOS 3.11 and older drop heights there.
        row["geometry"] = shapely.geometry.shape(feature["geometry"])
        tables[row.pop("table")].append(row)
    return Reserve(**{name: tuple(rows) for name, rows in tables.items()})
