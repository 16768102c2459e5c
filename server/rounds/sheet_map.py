"""The small map of a walk on its print sheet, which needs no script."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from markupsafe import Markup
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from layers.trail.measures import M_PER_FOOT, said_distance
from layers.walking.network.plane import Plane
from layers.walking.round import Walk
from layers.walking.round.legs import Units
from server.live.contents import Ground
from server.rounds import svg
from server.rounds.planning import Planned

Floats = NDArray[np.float64]

WIDE = 760.0
LOWEST, HIGHEST = 240.0, 280.0
EDGE = 34.0
ARROW_APART = 90.0
STOP_SIZE = 9.0


@dataclass(frozen=True)
class _Frame:
    """Places on earth to places on the drawing."""

    plane: Plane
    left_m: float
    top_m: float
    scale: float
    high: float

    def xy(self, lon: Floats | Sequence[float], lat: Floats | Sequence[float]) -> Floats:
        at = self.plane.xy(lon, lat)
        drawn: Floats = np.column_stack([at[:, 0] - self.left_m, self.top_m - at[:, 1]])
        return drawn * self.scale

    def holds(self, at: Floats) -> bool:
        return bool(0 < at[0] < WIDE and 0 < at[1] < self.high)


def map_svg(planned: Planned, ground: Ground, walk: Walk) -> Markup:
    """A small map of one walk: ground, paths, numbered stops and the way between them."""
    ways = [(leg.way.lon, leg.way.lat) for leg in walk.legs]
    frame = _frame(*(np.concatenate(values) for values in zip(*ways, strict=True)))
    parts = [*_zones(frame, ground), *_paths(frame, ground)]
    way = np.concatenate([frame.xy(lon, lat) for lon, lat in ways])
    parts.append(Markup('<polyline class="way" points="{}"/>').format(svg.points(way)))
    parts += [
        Markup('<path class="arrow" d="M-4 -4L4 0L-4 4" transform="translate({:.1f} {:.1f}) '
               'rotate({:.0f})"/>').format(x, y, turn)
        for x, y, turn in _arrows(way)
    ]  # fmt: skip
    stops = frame.xy([stop.lon for stop in walk.stops], [stop.lat for stop in walk.stops])
    parts += _places(frame, ground, planned, taken=stops)
    for stop, (x, y) in zip(walk.stops, stops.tolist(), strict=True):
        mark = "look" if stop.watch_only else "open"
        shape = (
            Markup('<rect class="{}" x="{:.1f}" y="{:.1f}" width="18" height="18"/>')
            if stop.watch_only
            else Markup('<circle class="{}" cx="{:.1f}" cy="{:.1f}" r="9"/>')
        )
        corner = (x - STOP_SIZE, y - STOP_SIZE) if stop.watch_only else (x, y)
        parts.append(shape.format(f"stop-{mark}", *corner))
        parts.append(svg.text("number", x, y + 4, str(stop.order), anchor="middle"))
    parts += _scale_bar(frame, planned.units)
    said = f"Map of the walk with {len(walk.stops)} numbered stops. North is up."
    return svg.drawing("sheet-map", WIDE, frame.high, said, parts)


def _frame(lon: Floats, lat: Floats) -> _Frame:
    plane = Plane.around(lon, lat)
    at = plane.xy(lon, lat)
    low, high = at.min(axis=0), at.max(axis=0)
    wide_m, high_m = np.maximum(high - low, 50.0)
    drawn_high = min(max(high_m / wide_m * WIDE, LOWEST), HIGHEST)
    scale = min((WIDE - 2 * EDGE) / wide_m, (drawn_high - 2 * EDGE) / high_m)
    middle = (low + high) / 2.0
    left_m, top_m = middle[0] - WIDE / scale / 2.0, middle[1] + drawn_high / scale / 2.0
    return _Frame(plane, float(left_m), float(top_m), float(scale), float(drawn_high))


def _zones(frame: _Frame, ground: Ground) -> Iterator[Markup]:
    order = {"habitat": 0, "water": 1, "keep_out": 2, "building": 3}
    zones = sorted(
        zip(ground.zones["kind"], ground.zones.geometry, strict=True),
        key=lambda zone: order.get(zone[0], 0),
    )
    for kind, shape in zones:
        known = str(kind).replace("_", "-") if kind in order else "habitat"
        for ring in shapely.get_exterior_ring(shapely.get_parts(shape)):
            yield from _drawn(frame, ring, f'<polygon class="zone-{known}" points="{{}}"/>')


def _paths(frame: _Frame, ground: Ground) -> Iterator[Markup]:
    for part in shapely.get_parts(ground.paths.geometry.to_numpy()):
        yield from _drawn(frame, part, '<polyline class="path" points="{}"/>')


def _drawn(frame: _Frame, line: BaseGeometry | None, form: str) -> Iterator[Markup]:
    at = shapely.get_coordinates(line)
    if len(at):
        yield Markup(form).format(svg.points(frame.xy(*at.T)))


def _places(frame: _Frame, ground: Ground, planned: Planned, *, taken: Floats) -> Iterator[Markup]:
    """Start, end and hazards by name; other landmarks where nothing is in the way."""
    rows = zip(ground.places["name"], ground.places["kind"], ground.places.geometry, strict=True)
    marks = [(name, kind, point.x, point.y) for name, kind, point in rows if point is not None]
    ends = {
        site.name: (site.name, "start", site.lon, site.lat) for site in (planned.start, planned.end)
    }
    others = [
        (name, "hazard" if kind == "hazard" else "landmark", lon, lat)
        for name, kind, lon, lat in marks
        if name not in ends
    ]
    used = taken
    for name, kind, lon, lat in sorted(
        [*ends.values(), *others], key=lambda one: one[1] != "start"
    ):
        at = frame.xy([lon], [lat])[0]
        if not frame.holds(at):
            continue
        crowded = len(used) > 0 and np.linalg.norm(used - at, axis=1).min() < 40.0
        if kind == "landmark" and crowded:
            continue
        used = np.vstack([used, at])
        x, y = at
        yield Markup('<path class="place-{}" d="{}" transform="translate({:.1f} {:.1f})"/>').format(
            kind, _SHAPES[kind], x, y
        )
        # To the right, to the left, below, above: the first that is least in the way.
        wide = 7.5 * len(name or "")
        corners = [(11.0, 0.0), (-11.0 - wide, 0.0), (-wide / 2, 17.0), (-wide / 2, -17.0)]
        east, down = min(corners, key=lambda by: _covered(at + by, wide, used))
        yield svg.text("place", x + east, y + down + 5, name or "", anchor="start")


def _covered(corner: Floats, wide: float, used: Floats) -> int:
    """How many marks a name would be written over, and whether it would leave the map."""
    x, y = corner
    inside = (used[:, 0] > x - STOP_SIZE) & (used[:, 0] < x + wide + STOP_SIZE)
    outside = x < 0 or x + wide > WIDE
    beside = np.abs(used[:, 1] - y) < 2 * STOP_SIZE - 2
    return int(np.count_nonzero(inside & beside)) + 9 * bool(outside)


_SHAPES = {
    "start": "M-7 -7H7V7H-7Z",
    "hazard": "M0 -9L9 7H-9Z",
    "landmark": "M0 -5L5 0L0 5L-5 0Z",
}


def _arrows(way: Floats) -> Iterator[tuple[float, float, float]]:
    """Places at even distances on the right-hand side of a line, and which way it runs there."""
    step = np.diff(way, axis=0)
    length = np.linalg.norm(step, axis=1)
    along = np.r_[0.0, np.cumsum(length)]
    for at in np.arange(ARROW_APART / 2.0, along[-1], ARROW_APART):
        i = min(int(np.searchsorted(along, at, side="right")) - 1, len(step) - 1)
        east, south = step[i] / length[i]
        x, y = way[i] + (at - along[i]) * np.array([east, south])
        yield x - 6.0 * south, y + 6.0 * east, math.degrees(math.atan2(south, east))


def _scale_bar(frame: _Frame, units: Units) -> Iterator[Markup]:
    unit_m = M_PER_FOOT if units == "us" else 1.0
    room = 160.0 / frame.scale / unit_m
    power = 10.0 ** math.floor(math.log10(room))
    figure = max(power * k for k in (1, 2, 5) if power * k <= room)
    x, y = 16.0, frame.high - 14.0
    yield svg.line("bar", x, y, x + figure * unit_m * frame.scale, y)
    yield svg.text("bar-said", x, y - 7, said_distance(figure * unit_m, units), anchor="start")
