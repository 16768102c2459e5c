"""What a place is for a box, and where along the paths there is room for one more."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

import geopandas as gpd
import numpy as np
import shapely

from layers.errors import BadValue
from layers.nesting.siting import (
    BoxNear,
    HabitatUse,
    PathNear,
    Place,
    Reason,
    Siting,
    ZoneHere,
    expected_species,
    habitat_use,
    nested,
    rivals,
    siting,
)
from layers.nesting.siting.cautions import SPARROWS_M
from layers.trail.coding import day_number
from layers.walking.candidates import Candidates, candidates_along, farthest_first
from layers.walking.nearest import NearestBoxes
from layers.walking.network.plane import away_m
from server.live.contents import Contents
from server.live.ground import Ground

APART_M = 25.0
"""How closely places along the paths are looked at; our own choice."""

ROAD = "road"
"""In the kind of a path: young that leave a box beside one fly before cars (common practice,
no source)."""

MOST_SPOTS = 100

NO_BOX_IN = ("keep_out", "building", "water")


@dataclass(frozen=True)
class Spare:
    """A place along a path with room for one more box.

    Attributes
    ----------
    path
        Name of the path; None where it has none.
    next_box, next_m
        The nearest box that could serve the species, and how far it is; None where none does.
    habitat
        How the species used the trail's boxes in the same habitat; None where the habitat is not
        mapped, or no box has it.
    """

    lon: float
    lat: float
    path: str | None
    next_box: str | None
    next_m: float | None
    habitat: HabitatUse | None

    @property
    def least_use(self) -> float:
        """The lower end of the share of boxes that it uses there; 0 where that is not known."""
        return 0.0 if self.habitat is None else self.habitat.interval.low


@dataclass(frozen=True)
class Room:
    """Where a species has room: spots at least `apart_m` from every box that could serve it,
    and from each other; those in the habitats that it surely uses most first, then the roomiest.

    `sources` are what the guide rests the distance on.
    """

    species: str
    on: date
    apart_m: float
    sources: tuple[str, ...]
    spots: tuple[Spare, ...]


def sited(contents: Contents, *, lon: float, lat: float, on: date) -> Siting:
    """What speaks for and against a place on a day."""
    ground = contents.ground
    boxes = _standing(contents, on)
    zones = _zones_at(ground, lon=lon, lat=lat)
    place = Place(
        lon=lon,
        lat=lat,
        boxes=_boxes_near(contents, boxes, lon=lon, lat=lat),
        zones=tuple(
            ZoneHere(*row)
            for row in zip(zones["kind"], zones["name"], zones["detail"], strict=True)
        ),
        path=_path_near(ground, lon=lon, lat=lat),
        building_m=_building_m(ground, lon=lon, lat=lat),
    )
    return siting(
        contents.histories,
        place,
        habitats=_habitats(boxes),
        on=on,
        settings=contents.settings,
    )


def room_for(contents: Contents, name: str, *, on: date, most: int) -> Room:
    """Candidates along the paths with room for one more box for a species.

    Paths that are closed, roads, and zones in which no box should stand are left out.

    Raises
    ------
    BadValue
        No species of the guide has the name, or the guide gives no distance for it.
    """
    species = contents.guide.find(name)
    if species.spacing_m is None:
        expected = "a species for which the guide gives a distance between boxes"
        raise BadValue(expected, species.common, column="species")
    boxes, laid = _standing(contents, on), nested(contents.histories.up_to(on))
    able = rivals(laid, boxes.values(), species)
    use = habitat_use(laid, species, _habitats(boxes))
    placed = [boxes[box] for box in able if boxes[box]["lon"] is not None]
    lon, lat = [one["lon"] for one in placed], [one["lat"] for one in placed]
    taken = NearestBoxes(lon, lat)
    names, spots = _free_spots(contents.ground)
    spare = []
    for position, _ in farthest_first(spots, taken, apart_m=species.spacing_m.low, most=MOST_SPOTS):
        x, y = float(spots.lon[position]), float(spots.lat[position])
        near = taken.query(x, y, k=1)
        next_box = placed[int(near.position[0])]["box"] if len(near) else None
        next_m = float(near.distance_m[0]) if len(near) else None
        mapped = _zones_at(contents.ground, lon=x, lat=y)["detail"]
        here = next((use[detail] for detail in mapped if detail in use), None)
        spare.append(Spare(x, y, names[int(spots.path[position])], next_box, next_m, here))
    spare.sort(key=lambda one: -one.least_use)
    sources = contents.guide.citations(species.spacing_m.sources)
    return Room(species.common, on, species.spacing_m.low, sources, tuple(spare[:most]))


def _habitats(boxes: dict[str, dict[str, Any]]) -> dict[str, str]:
    return {box: facts["habitat"] for box, facts in boxes.items() if facts["habitat"]}


def _zones_at(ground: Ground, *, lon: float, lat: float) -> gpd.GeoDataFrame:
    here = shapely.Point(lon, lat)
    return ground.zones[shapely.intersects(ground.zones.geometry.to_numpy(), here)]


def _standing(contents: Contents, on: date) -> dict[str, dict[str, Any]]:
    """The boxes that stand on a day, with their columns, `lon` and `lat`."""
    stands, day = contents.service, day_number(on)
    return {
        record["box"]: record
        for at, record in enumerate(contents.ground.records)
        if stands.since[at] <= day < stands.until[at]
    }


def _boxes_near(
    contents: Contents, boxes: dict[str, dict[str, Any]], *, lon: float, lat: float
) -> tuple[BoxNear, ...]:
    """Boxes as far away as any rule looks, nearest first."""
    spans = [one.spacing_m.high for one in contents.guide.species if one.spacing_m is not None]
    ground = contents.ground
    if not ground.placed:
        return ()
    reach_m = max(SPARROWS_M, *spans)
    found = ground.nearest.query(lon, lat, k=len(ground.placed), max_distance_m=reach_m)
    near = zip(found.position.tolist(), found.distance_m.tolist(), strict=True)
    return tuple(
        BoxNear(box, distance_m, boxes[box])
        for position, distance_m in near
        if (box := ground.placed[position]) in boxes
    )


def _path_near(ground: Ground, *, lon: float, lat: float) -> PathNear | None:
    away = away_m(ground.paths.geometry.tolist(), lon=lon, lat=lat)
    if not np.isfinite(away).any():
        return None
    nearest = int(np.nanargmin(away))
    row = ground.paths.iloc[nearest]
    return PathNear(row["name"], row["open_to"], float(away[nearest]))


def _building_m(ground: Ground, *, lon: float, lat: float) -> float | None:
    buildings = ground.zones.geometry[ground.zones["kind"] == "building"]
    away = away_m(buildings.tolist(), lon=lon, lat=lat)
    return float(np.nanmin(away)) if np.isfinite(away).any() else None


def _free_spots(ground: Ground) -> tuple[list[str | None], Candidates]:
    """Places along the paths where a box may stand, and the name of each path."""
    kinds = ground.paths["kind"].fillna("").str.casefold()
    paths = ground.paths[(ground.paths["open_to"] != "closed") & ~kinds.str.contains(ROAD)]
    spots = candidates_along(paths.geometry.tolist(), every_m=APART_M)
    barred = ground.zones.geometry[ground.zones["kind"].isin(NO_BOX_IN)].to_numpy()
    held = shapely.intersects_xy(shapely.union_all(barred), spots.lon, spots.lat)
    return paths["name"].tolist(), spots.take(~held)


def siting_json(found: Siting) -> dict[str, Any]:
    """A siting as values for JSON."""
    return {
        "lat": found.place.lat,
        "lon": found.place.lon,
        "on": found.on.isoformat(),
        "against": [_reason(one) for one in found.against],
        "cautions": [_reason(one) for one in found.cautions],
        "species": [
            {
                "species": one.species,
                "nests": one.nests,
                "room": one.room,
                "why": _reason(one.why),
                "habitat": None if one.habitat is None else one.habitat.text,
                "box": [
                    {"measure": each.name, "text": each.text, "sources": list(each.sources)}
                    for each in one.figures
                ],
            }
            for one in found.species
        ],
    }


def _reason(reason: Reason) -> dict[str, Any]:
    return {"text": reason.text, "sources": list(reason.sources)}


def room_json(found: Room) -> dict[str, Any]:
    """Room for a species as values for JSON."""
    return {
        "species": found.species,
        "on": found.on.isoformat(),
        "apart_m": found.apart_m,
        "sources": list(found.sources),
        "spots": [
            {
                "order": order,
                "lat": round(one.lat, 6),
                "lon": round(one.lon, 6),
                "path": one.path,
                "next_box": one.next_box,
                "next_m": None if one.next_m is None else round(one.next_m, 1),
                "habitat": None if one.habitat is None else _use_json(one.habitat),
            }
            for order, one in enumerate(found.spots, start=1)
        ],
    }


def _use_json(use: HabitatUse) -> dict[str, Any]:
    return {
        "habitat": use.habitat,
        "used": use.used,
        "boxes": use.boxes,
        "low": use.interval.low,
        "high": use.interval.high,
        "text": use.text,
    }


def species_with_room(contents: Contents, *, on: date) -> list[str]:
    """Species that may come here and for which the guide gives a distance between boxes."""
    guide = contents.guide
    expected = expected_species(guide, nested(contents.histories.up_to(on)))
    return [name for name in expected if guide.find(name).spacing_m is not None]
