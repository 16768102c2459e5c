"""Invented parks whose walking distances are known.

A park is made twice from one plan. The truth has every end exactly on its junction and
is cut by `shapely.node`; the drawing has ends that stop short, as people draw them. A
footbridge passes over the paths without meeting them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import dijkstra

from layers.walking.network.attach import Site
from layers.walking.network.lines import Line
from layers.walking.network.plane import Plane, project

Floats = NDArray[np.float64]

# The invented Alderbeck Reserve lies nowhere in particular.
MIDDLE_LON, MIDDLE_LAT = -72.5, 41.9
PLANE = Plane(MIDDLE_LON, MIDDLE_LAT)


def line(
    *vertices: tuple[float, float],
    name: str = "Pond Loop",
    kind: str = "path",
    open_to: str = "all",
    level: int | None = None,
    one_way: bool = False,
    heights: Sequence[float] | None = None,
) -> Line:
    """A line from metres east and north of the middle."""
    xy = np.array(vertices, np.float64)
    lon, lat = PLANE.lonlat(xy[:, 0], xy[:, 1])
    height = np.full(len(xy), np.nan) if heights is None else np.array(heights, np.float64)
    return Line(name, kind, open_to, level, one_way, lon, lat, height)


def site(x: float, y: float, name: str = "B1", *, watch_only: bool = False) -> Site:
    lon, lat = PLANE.lonlat(x, y)
    return Site(name, float(lon), float(lat), watch_only)


def square(x: float, y: float, size: float) -> shapely.Polygon:
    """A square in degrees around a place."""
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * size / 2.0 + [x, y]
    return shapely.Polygon(np.column_stack(PLANE.lonlat(*corners.T)))


@dataclass(frozen=True)
class Park:
    """Clean lines and drawn lines in metres; boxes as points in metres."""

    clean: tuple[Floats, ...]
    drawn: tuple[Floats, ...]
    bridge: Floats
    drawn_bridge: Floats
    boxes: Floats

    def lines(self) -> tuple[Line, ...]:
        drawn = [
            line(*map(tuple, xy), name=f"Path {number}")
            for number, xy in enumerate(self.drawn, start=1)
        ]
        bridge = line(*map(tuple, self.drawn_bridge), name="Footbridge", kind="bridge", level=1)
        return (*drawn, bridge)

    def sites(self) -> tuple[Site, ...]:
        return tuple(site(x, y, f"B{number}") for number, (x, y) in enumerate(self.boxes, 1))

    def truth_m(self) -> Floats:
        """Walking metres between the boxes."""
        shapes = [shapely.LineString(xy) for xy in self.clean]
        noded = shapely.node(shapely.multilinestrings(shapes))
        edges = [*shapely.get_parts(noded), shapely.LineString(self.bridge)]
        return distances_m(edges, self.boxes)


@lru_cache
def make_park(seed: int, *, boxes: int, spurs: int = 8, chords: int = 5) -> Park:
    """A park with an outer loop, chords across it, an inner loop, spurs and a footbridge."""
    rng = np.random.default_rng(seed)
    loop = _loop(rng, radius=500.0, vertices=48)
    inner = _loop(rng, radius=180.0, vertices=24)
    clean = [loop, inner]
    drawn = [loop, inner]
    for first in rng.choice(48, chords, replace=False):
        last = (first + rng.integers(16, 33)) % 48
        chord = _wander(rng, loop[first], loop[last], steps=8)
        while _runs_along(chord, clean):
            chord = _wander(rng, loop[first], loop[last], steps=8)
        clean.append(chord)
        drawn.append(_shortened(rng, clean[-1], ends=(0, -1)))
    for first in rng.choice(48, spurs, replace=False):
        turn = rng.uniform(-0.6, 0.6)
        rotate = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
        way = rotate @ (loop[first] / np.linalg.norm(loop[first]))
        clean.append(loop[first] + way * np.linspace(0.0, rng.uniform(60.0, 220.0), 5)[:, None])
        drawn.append(_shortened(rng, clean[-1], ends=(0,)))
    bridge = np.stack([inner[3], (inner[3] + loop[9]) / 2.0 + rng.normal(0, 10, 2), loop[9]])
    return Park(
        clean=tuple(clean),
        drawn=tuple(drawn),
        bridge=bridge,
        drawn_bridge=_shortened(rng, bridge, ends=(0, -1)),
        boxes=_beside(rng, clean, boxes),
    )


def _loop(rng: np.random.Generator, *, radius: float, vertices: int) -> Floats:
    angle = np.linspace(0.0, 2.0 * np.pi, vertices, endpoint=False)
    wave = 1.0 + 0.15 * np.sin(3 * angle + rng.uniform(0, 6)) + rng.normal(0, 0.01, vertices)
    xy = radius * wave[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])
    return np.concatenate([xy, xy[:1]])


def _wander(rng: np.random.Generator, begin: Floats, end: Floats, *, steps: int) -> Floats:
    xy = begin + np.linspace(0.0, 1.0, steps + 1)[:, None] * (end - begin)
    xy[1:-1] += rng.normal(0.0, 12.0, (steps - 1, 2))
    return xy


def _runs_along(xy: Floats, others: Sequence[Floats]) -> bool:
    """Whether a line comes within 4 m of another over more than 16 m: one path, not two."""
    shape = shapely.linestrings(xy)
    beside = [
        shapely.intersection(shape, shapely.buffer(shapely.linestrings(o), 4.0)) for o in others
    ]
    return any(part.length > 16.0 for shape in beside for part in shapely.get_parts(shape))


def _shortened(rng: np.random.Generator, xy: Floats, *, ends: Sequence[int]) -> Floats:
    """A line that stops 0.5 to 3 m short at some of its ends (0 the first, -1 the last)."""
    short = xy.copy()
    for end in ends:
        along = xy[1] - xy[0] if end == 0 else xy[-2] - xy[-1]
        short[end] += along / np.linalg.norm(along) * rng.uniform(0.5, 3.0)
    return short


def _beside(rng: np.random.Generator, lines: Sequence[Floats], count: int) -> Floats:
    """Places up to 20 m beside the lines."""
    places = []
    for _ in range(count):
        xy = lines[int(rng.integers(len(lines)))]
        step = rng.integers(len(xy) - 1)
        places.append(
            xy[step] + rng.uniform() * (xy[step + 1] - xy[step]) + rng.uniform(-14, 14, 2)
        )
    return np.array(places)


def distances_m(edges: Sequence[shapely.LineString], places: Floats) -> Floats:
    """Metres between places that are tied to the nearest point of some noded lines.

    The slow and plain way: every vertex is a node.
    """
    vertices: dict[tuple[float, float], int] = {}
    links: list[tuple[int, int, float]] = []

    def node(xy: Floats) -> int:
        return vertices.setdefault((round(float(xy[0]), 6), round(float(xy[1]), 6)), len(vertices))

    begins, ends = [], []
    for edge in edges:
        xy = shapely.get_coordinates(edge)
        begins.append(xy[:-1])
        ends.append(xy[1:])
    begin, end = np.concatenate(begins), np.concatenate(ends)
    off = np.zeros(len(places))
    split: dict[int, list[tuple[float, int]]] = {}
    for number, place in enumerate(places):
        fraction, gap = project(np.tile(place, (len(begin), 1)), begin, end)
        best = int(gap.argmin())
        off[number] = gap[best]
        split.setdefault(best, []).append((float(fraction[best]), number))
    feet = np.zeros(len(places), int)
    for number in range(len(begin)):
        stops = [begin[number]]
        for share, place_number in sorted(split.get(number, [])):
            stops.append(begin[number] + share * (end[number] - begin[number]))
            feet[place_number] = node(stops[-1])
        stops.append(end[number])
        for one, two in pairwise(stops):
            links.append((node(one), node(two), max(float(np.linalg.norm(two - one)), 1e-9)))
    u, v, length = (np.array(column) for column in zip(*links, strict=True))
    keep = u != v
    graph = coo_array((length[keep], (u[keep], v[keep])), shape=(len(vertices),) * 2).tocsr()
    answer: Floats = dijkstra(graph, directed=False, indices=feet)[:, feet] + off[:, None] + off
    np.fill_diagonal(answer, 0.0)
    return answer
