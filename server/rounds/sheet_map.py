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

from layers.trail.measures import M_PER_FOOT, format_distance
from layers.walking.network.plane import Plane
from layers.walking.round import Walk
from layers.walking.round.legs import Units
from server.live.ground import Ground
from server.rounds import svg
from server.rounds.labels import Area, Labels, pushed_apart
from server.rounds.planning import Planned

Floats = NDArray[np.float64]

WIDE = 760.0
LOWEST, HIGHEST = 240.0, 280.0
WHOLE_PAGE = 770.0
"""Height of a map that has a page to itself, under the head of the sheet, on A4 and Letter."""

EDGE = 34.0
ARROW_APART = 90.0
STOP_SIZE = 9.0
FAR = 30.0
"""A name farther than this from its mark is tied to it by a line."""


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

    @property
    def area(self) -> Area:
        """All of the drawing but a margin."""
        return Area(3.0, 3.0, WIDE - 3.0, self.high - 3.0)

    def holds(self, at: Floats) -> bool:
        return bool(0 < at[0] < WIDE and 0 < at[1] < self.high)


def map_svg(planned: Planned, ground: Ground, walk: Walk, *, whole_page: bool) -> Markup:
    """A map of one walk: ground, paths, numbered stops and the way between them."""
    ways = [(leg.way.lon, leg.way.lat) for leg in walk.legs]
    lon, lat = (np.concatenate(values) for values in zip(*ways, strict=True))
    frame = _frame(lon, lat, high=WHOLE_PAGE if whole_page else None)
    parts = [*_zones(frame, ground), *_paths(frame, ground)]
    way = np.concatenate([frame.xy(lon, lat) for lon, lat in ways])
    parts.append(Markup('<polyline class="way" points="{}"/>').format(svg.points(way)))
    parts += [
        Markup('<path class="arrow" d="M-4 -4L4 0L-4 4" transform="translate({:.1f} {:.1f}) '
               'rotate({:.0f})"/>').format(x, y, turn)
        for x, y, turn in _arrows(way)
    ]  # fmt: skip
    at = frame.xy([stop.lon for stop in walk.stops], [stop.lat for stop in walk.stops])
    stops = pushed_apart(at, 2.0 * STOP_SIZE + 1.0, within=_inner(frame.area, STOP_SIZE))
    for (x, y), (true_x, true_y) in zip(stops.tolist(), at.tolist(), strict=True):
        if math.hypot(x - true_x, y - true_y) > STOP_SIZE:
            parts.append(svg.line("leader", x, y, true_x, true_y))
    labels = Labels(
        frame.area,
        [*(Area.around(x, y, STOP_SIZE) for x, y in stops.tolist()), _bar_area(frame)],
        _along(way),
    )
    parts += _places(frame, ground, planned, labels)
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
    text = f"Map of the walk with {len(walk.stops)} numbered stops. North is up."
    return svg.drawing("sheet-map", WIDE, frame.high, text, parts)


def _inner(area: Area, margin: float) -> Area:
    return Area(area.left + margin, area.top + margin, area.right - margin, area.bottom - margin)


def _along(way: Floats) -> Floats:
    """Points close together along a line."""
    length = np.r_[0.0, np.cumsum(np.linalg.norm(np.diff(way, axis=0), axis=1))]
    at = np.arange(0.0, length[-1] + 4.0, 4.0)
    return np.column_stack([np.interp(at, length, way[:, axis]) for axis in (0, 1)])


def _frame(lon: Floats, lat: Floats, *, high: float | None) -> _Frame:
    plane = Plane.around(lon, lat)
    at = plane.xy(lon, lat)
    low, top = at.min(axis=0), at.max(axis=0)
    wide_m, high_m = np.maximum(top - low, 50.0)
    drawn_high = high or min(max(high_m / wide_m * WIDE, LOWEST), HIGHEST)
    scale = min((WIDE - 2 * EDGE) / wide_m, (drawn_high - 2 * EDGE) / high_m)
    middle = (low + top) / 2.0
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


def _places(frame: _Frame, ground: Ground, planned: Planned, labels: Labels) -> Iterator[Markup]:
    """Start, end and hazards by name; other landmarks where there is room."""
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
    drawn = []
    for name, kind, lon, lat in sorted([*ends.values(), *others], key=lambda one: _RANK[one[1]]):
        x, y = frame.xy([lon], [lat])[0].tolist()
        if not frame.holds(np.array([x, y])):
            continue
        drawn.append((name or "", kind, x, y))
        if kind != "landmark":
            labels.take(Area.around(x, y, STOP_SIZE))
    for name, kind, x, y in drawn:
        area = labels.place(x, y, name)
        if area is None and kind == "landmark":
            continue
        yield Markup('<path class="place-{}" d="{}" transform="translate({:.1f} {:.1f})"/>').format(
            kind, _SHAPES[kind], x, y
        )
        if area is not None:
            middle = (area.left + area.right) / 2.0, (area.top + area.bottom) / 2.0
            if math.hypot(middle[0] - x, middle[1] - y) > FAR + (area.right - area.left) / 2.0:
                yield svg.line("leader", x, y, *middle)
            yield svg.text("place", area.left, area.bottom - 3.0, name, anchor="start")


_RANK = {"start": 0, "hazard": 1, "landmark": 2}

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


def _bar_area(frame: _Frame) -> Area:
    return Area(0.0, frame.high - 40.0, 190.0, frame.high)


def _scale_bar(frame: _Frame, units: Units) -> Iterator[Markup]:
    unit_m = M_PER_FOOT if units == "us" else 1.0
    room = 160.0 / frame.scale / unit_m
    power = 10.0 ** math.floor(math.log10(room))
    figure = max(power * k for k in (1, 2, 5) if power * k <= room)
    x, y = 16.0, frame.high - 14.0
    yield svg.line("bar", x, y, x + figure * unit_m * frame.scale, y)
    yield svg.text("bar-said", x, y - 7, format_distance(figure * unit_m, units), anchor="start")
