"""A round as JSON and as GeoJSON."""

from __future__ import annotations

import math
from typing import Any

from layers.walking.nearest import compass
from layers.walking.round.clock import clock
from layers.walking.round.legs import Units, instruction, profile
from layers.walking.round.result import Leg, Round, Walk

_ADDED_UP = ("leg_m", "leg_minutes", "climb_m", "off_path_m", "break_minutes")
"""What only the first box of a stop has, so that sums are right."""

OPEN, WATCH = "open", "watch from a distance; do not open"


def round_json(planned: Round, *, units: Units = "metric") -> dict[str, Any]:
    """The round as values that JSON can hold; lengths in metres whatever the units.

    A climb is null where a path on the way has no heights.
    `units` only shapes the instructions. The stops of all walks are in one list, with
    the number of the walker; boxes back to back have the same order.
    """
    return {
        "stops": [
            stop
            for number, walk in enumerate(planned.walks, start=1)
            for stop in _stops(walk, planned.leave_at, number, units)
        ],
        "walks": [
            _walk(walk, planned.leave_at, number, units)
            for number, walk in enumerate(planned.walks, start=1)
        ],
        "length_m": round(planned.length_m, 1),
        "minutes": round(planned.minutes, 2),
        "climb_m": _rounded(planned.climb_m),
        "leave_at": clock(planned.leave_at),
        "left_out": [{"box": left.box, "reason": left.reason} for left in planned.left_out],
        "warnings": list(planned.warnings),
        "straight": planned.straight,
        "order_costs_m": _rounded(planned.steady_m),
        "proof": {
            "text": str(planned.proof),
            "optimal": planned.proof.optimal,
            "measure": planned.proof.measure,
            "value": round(planned.proof.value, 2),
            "bound": round(planned.proof.bound, 2),
            "gap": round(planned.proof.gap, 5),
        },
        "geometry": {
            "type": "MultiLineString",
            "coordinates": [_line(walk.legs) for walk in planned.walks if walk.stops],
        },
    }


def round_geojson(planned: Round, *, units: Units = "metric") -> dict[str, Any]:
    """The round as a GeoJSON feature collection: a line for each leg, a point for each box."""
    features = []
    for number, walk in enumerate(planned.walks, start=1):
        for order, leg in enumerate(walk.legs, start=1):
            facts = {"walker": number, "order": order} | _leg(leg)
            features.append(_feature("LineString", _line((leg,)), facts))
        for stop, facts in zip(
            [place for place in walk.stops for _ in place.boxes],
            _stops(walk, planned.leave_at, number, units),
            strict=True,
        ):
            features.append(_feature("Point", [stop.lon, stop.lat], facts))
    return {"type": "FeatureCollection", "features": features}


def _feature(kind: str, coordinates: list[Any], facts: dict[str, Any]) -> dict[str, Any]:
    geometry = {"type": kind, "coordinates": coordinates}
    return {"type": "Feature", "geometry": geometry, "properties": facts}


def _leg(leg: Leg) -> dict[str, Any]:
    return {
        "from": leg.start,
        "to": leg.end,
        "leg_m": round(leg.length_m, 1),
        "leg_minutes": round(leg.minutes, 2),
        "climb_m": _rounded(leg.climb_m),
        "off_path_m": round(leg.off_path_m, 1),
        "break_minutes": 0.0 if leg.rest is None else round(leg.rest.minutes, 2),
        "compass": compass(leg.strides[0].bearing_deg if leg.strides else leg.bearing_deg),
    }


def _stops(walk: Walk, leave_at: float, walker: int, units: Units) -> list[dict[str, Any]]:
    rows = []
    for stop in walk.stops:
        for number, box in enumerate(stop.boxes):
            leg = _leg(stop.leg)
            if number > 0:
                leg |= dict.fromkeys(_ADDED_UP, 0.0)
            rows.append(
                {"box": box, "order": stop.order, "walker": walker}
                | {"lon": stop.lon, "lat": stop.lat}
                | {"approach": WATCH if stop.watch_only else OPEN}
                | leg
                | {
                    "arrives": clock(leave_at + stop.arrives),
                    "waits": round(stop.waits, 2),
                    "stop_minutes": round(stop.minutes / len(stop.boxes), 2),
                    "instruction": instruction(stop.leg, watch_only=stop.watch_only, units=units),
                }
            )
    return rows


def _walk(walk: Walk, leave_at: float, walker: int, units: Units) -> dict[str, Any]:
    along, heights = [], []
    total = 0.0
    for leg in walk.legs:
        here, height_m = profile(leg)
        along += [round(total + at, 1) for at in here.tolist()]
        heights += [None if math.isnan(h) else round(h, 1) for h in height_m.tolist()]
        total += float(here[-1])
    home = None
    if walk.home is not None:
        home = _leg(walk.home) | {"instruction": instruction(walk.home, units=units)}
    return {
        "walker": walker,
        "boxes": [box for stop in walk.stops for box in stop.boxes],
        "length_m": round(walk.length_m, 1),
        "minutes": round(walk.minutes, 2),
        "climb_m": _rounded(walk.climb_m),
        "returns_at": clock(leave_at + walk.minutes),
        "home": home,
        "profile": {"along_m": along, "height_m": heights},
    }


def _rounded(value_m: float | None) -> float | None:
    return None if value_m is None else round(value_m, 1)


def _line(legs: tuple[Leg, ...]) -> list[list[float]]:
    """Coordinates along some legs, each place once; a lone place is given twice, as a line."""
    places: list[list[float]] = []
    for leg in legs:
        for lon, lat in zip(leg.way.lon.tolist(), leg.way.lat.tolist(), strict=True):
            if not places or places[-1] != [lon, lat]:
                places.append([lon, lat])
    return places if len(places) > 1 else places * 2
