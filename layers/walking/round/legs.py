"""The legs of a walk in figures and in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from layers.trail.measures import format_distance
from layers.walking.distances import Walking, Way
from layers.walking.nearest import WGS84, compass
from layers.walking.network.attach import Attached
from layers.walking.network.graph import Network, steps_m
from layers.walking.network.lines import OFF_PATH
from layers.walking.round.result import Leg, Stride

Floats = NDArray[np.float64]

Units = Literal["metric", "us"]

SHORTEST_STRIDE_M = 5.0
"""A shorter stretch of another path is a step across a junction, not worth a sentence."""

AT_PATH_M = 1.5
"""Nearer than this a box is at the path, on neither side of it."""

BACK_TO_PATH_M = 50.0
"""A shorter way back to the path from a box beside it needs no words."""


def make_leg(walking: Walking, start: int, end: int) -> Leg:
    """The leg between two sites by the quickest way."""
    attached = walking.attached
    network, sites = attached.network, attached.sites
    way = walking.way(start, end)
    up = np.where(way.forward, network.up_m[way.edges], network.down_m[way.edges])
    down = np.where(way.forward, network.down_m[way.edges], network.up_m[way.edges])
    lines = [network.lines[line] for line in network.line[way.edges].tolist()]
    off_path = np.array([line.kind == OFF_PATH for line in lines], bool)
    # Open ground is taken as level: a leg without any path climbs nothing, if heights are known.
    has_heights = [line.has_heights for line in lines if line.kind != OFF_PATH]
    known = all(has_heights or [bool(np.isfinite(network.height_m).any())])
    off_m = float(attached.off_path_m[[start, end]].sum()) if start != end else 0.0
    arrival = _arrival(attached, way, off_path, end)
    return Leg(
        start=sites[start].name,
        end=sites[end].name,
        length_m=float(walking.length_m[start, end]),
        minutes=float(walking.minutes[start, end]),
        climb_m=float(up.sum()) if known else None,
        descent_m=float(down.sum()) if known else None,
        off_path_m=off_m + float(network.length_m[way.edges][off_path].sum()),
        away_m=float(attached.away_m[end]) if arrival.away_m is None else arrival.away_m,
        side=arrival.side,
        bearing_deg=_bearing(way.lon, way.lat),
        strides=_strides(walking, _told(network, way, off_path, arrival)),
        way=way,
    )


@dataclass(frozen=True)
class _Arrival:
    """How a leg comes to its end.

    `side` as in `Leg`; `away_m` is the length of the one straight leg from the path, None
    where there is no such leg among the edges.
    """

    side: str
    away_m: float | None


def _arrival(attached: Attached, way: Way, off_path: NDArray[np.bool_], end: int) -> _Arrival:
    on_path = np.flatnonzero(~off_path)
    last = int(on_path[-1]) if len(on_path) else -1
    straight = len(off_path) - 1 - last
    if last < 0 or straight > 1:
        return _Arrival("", None)
    away_m = float(attached.network.length_m[way.edges[-1]]) if straight else None
    if (attached.away_m[end] if away_m is None else away_m) < AT_PATH_M:
        return _Arrival("", away_m)
    return _Arrival(_side(attached, way, last, end), away_m)


def _told(
    network: Network, way: Way, off_path: NDArray[np.bool_], arrival: _Arrival
) -> list[tuple[int, bool]]:
    """The edges of a way that its strides name, and whether each is walked forward.

    Not the last straight leg beside the path, which the arrival names, nor a short one
    back to the path at the beginning.
    """
    edges = list(zip(way.edges.tolist(), way.forward.tolist(), strict=True))
    if arrival.away_m is not None:
        edges, off_path = edges[:-1], off_path[:-1]
    on_path = np.flatnonzero(~off_path)
    first = int(on_path[0]) if len(on_path) else 0
    back_m = float(network.length_m[[edge for edge, _ in edges[:first]]].sum()) if first else 0.0
    return edges[first:] if back_m <= BACK_TO_PATH_M else edges


def _bearing(lon: Floats, lat: Floats) -> float:
    """Direction from the first place to the last, clockwise from north; 0 if they are one."""
    azimuth: float = WGS84.inv(lon[0], lat[0], lon[-1], lat[-1])[0]
    return azimuth % 360.0 if (lon[0], lat[0]) != (lon[-1], lat[-1]) else 0.0


def _edge_line(network: Network, edge: int, *, forward: bool) -> tuple[Floats, Floats]:
    lon, lat, _ = network.vertices(edge)
    return (lon, lat) if forward else (lon[::-1], lat[::-1])


def _heading(lon: Floats, lat: Floats, *, leaving: bool) -> float:
    """Direction of the first, or the last, step that has a length."""
    moved = np.flatnonzero((np.diff(lon) != 0.0) | (np.diff(lat) != 0.0))
    if len(moved) == 0:
        return float("nan")
    at = int(moved[-1] if leaving else moved[0])
    azimuth: float = WGS84.inv(lon[at], lat[at], lon[at + 1], lat[at + 1])[0]
    return azimuth % 360.0


def _turned(before_deg: float, after_deg: float) -> float:
    """Angle turned through, from -180 (left) to 180 (right)."""
    return (after_deg - before_deg + 180.0) % 360.0 - 180.0


def _turn(before_deg: float, after_deg: float) -> str:
    turned = _turned(before_deg, after_deg)
    if not abs(turned) >= 30.0:
        return "go on along"
    if abs(turned) > 150.0:
        return "turn back along"
    return "turn right onto" if turned > 0.0 else "turn left onto"


def _strides(walking: Walking, edges: Sequence[tuple[int, bool]]) -> tuple[Stride, ...]:
    network = walking.attached.network
    groups: list[tuple[str, float, list[tuple[Floats, Floats]]]] = []
    for edge, forward in edges:
        line = network.lines[network.line[edge]]
        length_m = float(network.length_m[edge])
        shape = _edge_line(network, edge, forward=forward)
        same = bool(groups) and groups[-1][0] == line.name != ""
        if groups and (same or (line.name and length_m < SHORTEST_STRIDE_M)):
            name, total, shapes = groups[-1]
            groups[-1] = name, total + length_m, [*shapes, shape]
        elif groups and groups[-1][1] < SHORTEST_STRIDE_M:
            _, total, shapes = groups[-1]
            groups[-1] = line.name, total + length_m, [*shapes, shape]
        else:
            groups.append((line.name, length_m, [shape]))
    strides: list[Stride] = []
    before = float("nan")
    for name, length_m, shapes in groups:
        lon, lat = (np.concatenate(values) for values in zip(*shapes, strict=True))
        after = _heading(lon, lat, leaving=False)
        turn = _turn(before, after) if strides else ""
        strides.append(Stride(name, length_m, 0.0 if np.isnan(after) else after, turn))
        before = _heading(lon, lat, leaving=True)
    return tuple(strides)


def _side(attached: Attached, way: Way, last: int, end: int) -> str:
    """Where a site is for a walker who comes along the path, whose last edge is `last`."""
    network, site = attached.network, attached.sites[end]
    lon, lat = _edge_line(network, int(way.edges[last]), forward=bool(way.forward[last]))
    coming = _heading(lon, lat, leaving=True)
    towards: float = WGS84.inv(lon[-1], lat[-1], site.lon, site.lat)[0]
    turned = _turned(coming, towards)
    if abs(turned) < 30.0:
        return "ahead"
    if abs(turned) > 150.0:
        return "behind you"
    return "on the right" if turned > 0.0 else "on the left"


def profile(leg: Leg) -> tuple[Floats, Floats]:
    """Metres along a leg and heights there, for a drawing; heights NaN where not known."""
    along = np.r_[0.0, np.cumsum(steps_m(leg.way.lon, leg.way.lat))]
    return along[: len(leg.way.lon)], leg.way.height_m


def instruction(leg: Leg, *, watch_only: bool = False, units: Units = "metric") -> str:
    """What to do on one leg: "follow Pond Loop east 240 m; B12 on the left, 12 m off the path".

    A break on the way comes first: "break of 30 min from 10:02; follow …".
    """

    def said(length_m: float) -> str:
        return format_distance(length_m, units)

    first = "" if leg.rest is None else f"break of {leg.rest}; "
    parts = []
    # A box at the very start needs no way.
    for number, stride in enumerate(leg.strides if leg.length_m >= 0.5 else ()):
        way = compass(stride.bearing_deg)
        if not stride.name:
            parts.append(f"walk straight {way} {said(stride.length_m)}")
        elif number == 0:
            parts.append(f"follow {stride.name} {way} {said(stride.length_m)}")
        else:
            parts.append(f"{stride.turn} {stride.name} {said(stride.length_m)}")
    if not leg.strides and leg.length_m >= 0.5:
        parts.append(f"walk {compass(leg.bearing_deg)} {said(leg.length_m)}")
    way_there = ", then ".join(parts)
    if watch_only:
        arrival = f"watch {leg.end}{f' {leg.side}' if leg.side else ''} from the path"
        arrival += f", {said(leg.away_m)} away"
    elif leg.side:
        arrival = f"{leg.end} {leg.side}, {said(leg.away_m)} off the path"
    else:
        arrival = f"{leg.end} is here" if not parts else leg.end
    return first + (f"{way_there}; {arrival}" if way_there else arrival)
