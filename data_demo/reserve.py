"""Alderbeck Reserve: an invented reserve with a trail of 60 nest boxes.

Nothing of it is real. Its coordinates fall on farmland, chosen because a map needs
some; there is no such pond, wood, path or box there.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from random import Random
from types import MappingProxyType
from typing import Any

import numpy as np
import shapely

from data_demo.ground import to_wgs84
from data_demo.land import PLACES, draw_land
from data_demo.sites import Sites
from data_demo.ways import DrawnWay, draw_ways

RESERVE_NAME = "Alderbeck Reserve"

Row = dict[str, Any]


@dataclass(frozen=True)
class Section:
    """One part of the trail.

    Attributes
    ----------
    letter
        Painted on the boxes before their number.
    ways
        Paths along which the boxes stand, in walking order.
    species_mix
        How often each species takes a box here.
    holes_mm
        Entrance widths in use here.
    pairs
        How many boxes have a second one beside them.
    """

    name: str
    letter: str
    habitat: str
    ways: tuple[str, ...]
    species_mix: Mapping[str, float]
    holes_mm: tuple[float, ...]
    mounts: tuple[str, ...]
    pairs: int = 0


# Entrance widths in millimetres, from the inches of US Fish & Wildlife Service, For the
# Birds, 2001: 1 1/8 chickadee, 1 1/4 titmouse, 1 3/8 nuthatch, 1 1/2 bluebird, 1 3/4 flycatcher.
_CHICKADEE_HOLE, _TITMOUSE_HOLE, _NUTHATCH_HOLE = 29.0, 32.0, 35.0
_BLUEBIRD_HOLE, _FLYCATCHER_HOLE = 38.0, 44.0

SECTIONS = (
    Section(
        "Pond Meadow",
        "P",
        "meadow",
        ("Pond Loop", "West Path", "Brook Path", "Pond Approach"),
        MappingProxyType(
            {
                "tree swallow": 48.0,
                "eastern bluebird": 32.0,
                "house wren": 8.0,
                "black-capped chickadee": 6.0,
                "house sparrow": 4.0,
            }
        ),
        (_BLUEBIRD_HOLE,),
        ("steel pole", "wooden post"),
        pairs=1,
    ),
    Section(
        "Orchard Edge",
        "O",
        "orchard",
        ("Orchard Loop", "Orchard Row", "Orchard Link", "Barn Path"),
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
        (_BLUEBIRD_HOLE, _BLUEBIRD_HOLE, _FLYCATCHER_HOLE),
        ("steel pole", "fence post"),
        pairs=1,
    ),
    Section(
        "North Hedge",
        "N",
        "hedge",
        ("Hedge Walk West", "Hedge Walk East", "Meadow Path"),
        MappingProxyType(
            {
                "house wren": 34.0,
                "eastern bluebird": 30.0,
                "tree swallow": 18.0,
                "black-capped chickadee": 12.0,
                "house sparrow": 6.0,
            }
        ),
        (_BLUEBIRD_HOLE, _TITMOUSE_HOLE),
        ("steel pole", "fence post", "tree"),
    ),
    Section(
        "Mill Wood",
        "M",
        "wood",
        ("Mill Wood Round", "Wood Walk", "Ridge Path", "Mill Spur"),
        MappingProxyType(
            {
                "black-capped chickadee": 38.0,
                "tufted titmouse": 24.0,
                "house wren": 18.0,
                "white-breasted nuthatch": 11.0,
                "great crested flycatcher": 9.0,
            }
        ),
        (_CHICKADEE_HOLE, _TITMOUSE_HOLE, _TITMOUSE_HOLE, _NUTHATCH_HOLE, _FLYCATCHER_HOLE),
        ("tree", "tree", "steel pole"),
    ),
)
"""The four sections, 15 boxes each."""

BOXES_A_SECTION = 15

# What happened to single boxes.
_INSTALLED_LATER = {"N15": date(2024, 3, 9), "M14": date(2025, 3, 8), "M15": date(2025, 3, 8)}
_REMOVED = {
    "M11": (date(2024, 12, 14), "its ash fell in a storm"),
    "N06": (date(2025, 11, 2), "post rotten; hedge too close now"),
}
_NAMES = {"P01": "Heron bend", "O05": "Cider tree", "N02": "Stile", "M03": "Mossy ash"}

_POLE_GUARDS = ("cone", "stovepipe", "stovepipe", "cone;hole plate", "slender pole")
_OTHER_GUARDS = (None, None, "hole mesh", "hole plate")


@dataclass(frozen=True)
class Reserve:
    """The invented reserve as rows of a trail's tables, shapes in EPSG:4326."""

    boxes: tuple[Row, ...]
    paths: tuple[Row, ...]
    places: tuple[Row, ...]
    zones: tuple[Row, ...]


def make_reserve(*, seed: int) -> Reserve:
    """The reserve. Its land and paths are always the same; the seed sets up the boxes."""
    hand = np.random.default_rng(7)
    ways = draw_ways(hand)
    zones = draw_land(hand)
    random = Random(seed)
    sites = Sites(list(ways.values()), zones, random=random)
    boxes = [
        box
        for section in SECTIONS
        for box in _boxes_of(section, sites, [ways[name] for name in section.ways], random)
    ]
    return Reserve(
        boxes=tuple(boxes),
        paths=tuple(
            {
                "name": drawn.way.name,
                "kind": drawn.way.kind,
                "open_to": drawn.way.open_to,
                "level": drawn.way.level,
                "geometry": to_wgs84(drawn.line),
            }
            for drawn in ways.values()
        ),
        places=tuple(
            {
                "name": place.name,
                "kind": place.kind,
                "geometry": to_wgs84(shapely.Point(place.xy)),
            }
            for place in PLACES
        ),
        zones=tuple(
            {
                "name": zone.name,
                "kind": zone.kind,
                "detail": zone.detail,
                "geometry": to_wgs84(zone.shape),
            }
            for zone in zones
        ),
    )


def _boxes_of(
    section: Section, sites: Sites, ways: Sequence[DrawnWay], random: Random
) -> list[Row]:
    points = sites.along(ways, count=BOXES_A_SECTION - section.pairs)
    twin_of = random.sample(range(len(points)), section.pairs)
    boxes = [_set_up(section, i, point, random) for i, point in enumerate(points, start=1)]
    for first in twin_of:
        second = _set_up(section, len(boxes) + 1, sites.beside(points[first]), random)
        second["pair"], boxes[first]["pair"] = boxes[first]["box"], second["box"]
        boxes.append(second)
    return boxes


def _set_up(section: Section, number: int, point: shapely.Point, random: Random) -> Row:
    """How one box is made and hung; most stand since before the first season."""
    in_wood = section.habitat == "wood"
    mount = random.choice(section.mounts)
    hole_mm = random.choice(section.holes_mm)
    # Floors of 6, 5 and 4 inches, same source.
    floor_mm = 152.0 if hole_mm > 40 else 127.0 if hole_mm > 33 else 102.0
    on_pole = mount == "steel pole"
    box = f"{section.letter}{number:02d}"
    stood_from = date(2022, 11, 5) + timedelta(days=random.randrange(90))
    removed_on, note = _REMOVED.get(box, (None, None))
    cleaned = removed_on is None and random.random() < 0.9
    return {
        "box": box,
        "name": _NAMES.get(box),
        "section": section.name,
        "hole_mm": hole_mm,
        "hole_shape": "round",
        "floor_mm": floor_mm,
        "depth_mm": float(random.choice((150, 165, 180, 200))),
        "height_m": round(random.uniform(2.2, 3.6) if in_wood else random.uniform(1.4, 1.8), 1),
        "facing_deg": float(round(random.triangular(0, 250, 100) / 5) * 5),
        "mount": mount,
        "guards": random.choice(_POLE_GUARDS if on_pole else _OTHER_GUARDS),
        "opens": random.choice(("side", "side", "front", "top")),
        "habitat": section.habitat,
        "installed_on": _INSTALLED_LATER.get(box, stood_from),
        "removed_on": removed_on,
        "cleaned_on": date(2026, 2, 21) if cleaned else None,
        "public": random.choices(("shown", "coarse", "hidden"), (6, 3, 1))[0],
        "note": note,
        "geometry": to_wgs84(point),
    }
