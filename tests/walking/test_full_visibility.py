"""Rounds half off the path, among barriers, against what no round can undercut.

The reference shares no way with ours: points every two metres of all paths, all corners of the
barriers, and a leg between any two that see each other (shapely).
"""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import dijkstra

from layers.walking.network.barriers import Barrier
from layers.walking.network.build import build_network
from layers.walking.network.open_ground import OpenGround
from layers.walking.pace import OFF_PATH_FACTOR, Flat
from layers.walking.round import RoundProblem, StopRequest, plan
from layers.walking.round.bound import tour_bound
from layers.walking.round.single import UNITS
from layers.walking.round.solve import STEPS_PER_STOP
from layers.walking.round.tour import tours
from tests.walking.parks import PLANE, line, site

pytestmark = pytest.mark.slow

Floats = NDArray[np.float64]

REACH_M = 250.0
PATHS = (
    [(0, 0), (250, -30), (500, 0), (520, 200), (480, 400), (240, 430), (0, 400), (0, 0)],
    [(250, -30), (230, 120), (300, 260), (240, 430)],
)
STOP_MINUTES = 5.0


def barriers_among(
    rng: np.random.Generator, paths: shapely.MultiLineString
) -> shapely.MultiPolygon:
    """Ponds and buildings that touch no path and not each other."""
    made: list[shapely.Polygon] = []
    while len(made) < 14:
        x, y, turn = *rng.uniform(-60, 560, 2), rng.uniform(0.0, 90.0)
        wide, high = rng.uniform(10.0, 70.0, 2)
        shape = shapely.affinity.rotate(shapely.box(x, y, x + wide, y + high), turn)
        if shape.distance(paths) > 4.0 and all(shape.distance(one) > 6.0 for one in made):
            made.append(shape)
    return shapely.MultiPolygon(made)


def boxes_among(
    rng: np.random.Generator, count: int, paths: shapely.MultiLineString, barriers: shapely.Geometry
) -> Floats:
    """Places in the open: half on a path, half up to 150 m off it."""
    made: list[tuple[float, float]] = []
    while len(made) < count:
        if len(made) % 2:
            way = paths.geoms[int(rng.integers(len(paths.geoms)))]
            at = way.interpolate(rng.uniform(0.0, way.length))
        else:
            at = shapely.Point(rng.uniform(-100, 600, 2))
        if at.distance(paths) < 150.0 and at.distance(barriers) > 3.0:
            made.append((at.x, at.y))
    return np.array(made)


def reference_minutes(places: Floats, barriers: shapely.MultiPolygon) -> Floats:
    """Minutes between all places over everything that sees each other."""
    points, u, v, minutes = [places, shapely.get_coordinates(barriers)], [], [], []
    first = len(points[0]) + len(points[1])
    knots: dict[tuple[float, float], int] = {}
    ways: list[Floats] = []
    size = first
    for path in PATHS:
        way = shapely.get_coordinates(shapely.segmentize(shapely.LineString(path), 2.0))
        numbers = []
        for at in map(tuple, way.tolist()):
            if at not in knots:
                knots[at] = size
                ways.append(np.array([at]))
                size += 1
            numbers.append(knots[at])
        u += numbers[:-1]
        v += numbers[1:]
        minutes += (np.linalg.norm(np.diff(way, axis=0), axis=1) * 0.06 / 5.0).tolist()
    xy = np.concatenate([*points, *ways])
    a, b = (side.ravel() for side in np.indices((first, size)))
    a, b = a[a < b], b[a < b]
    away = np.linalg.norm(xy[a] - xy[b], axis=1)
    a, b, away = (values[away <= REACH_M] for values in (a, b, away))
    inner = shapely.buffer(barriers, -0.01)
    shapely.prepare(inner)
    clear = ~shapely.intersects(inner, shapely.linestrings(np.stack([xy[a], xy[b]], axis=1)))
    rows, columns = np.r_[u, a[clear]], np.r_[v, b[clear]]
    values = np.maximum(np.r_[minutes, away[clear] * 0.06 / 5.0 / OFF_PATH_FACTOR], 1e-9)
    graph = coo_array((values, (rows, columns)), shape=(size, size)).tocsr()
    found: Floats = dijkstra(graph, directed=False, indices=np.arange(len(places)))
    return found[:, : len(places)]


def least_round(minutes: Floats) -> float:
    """Minutes that no round undercuts; see `test_tours` for how this bound is itself tested."""
    cost = np.floor(minutes * UNITS).astype(np.int64)
    *_, tour = tours(cost, steps=STEPS_PER_STOP * len(cost), seed=7)
    return tour_bound(cost, tour) / UNITS


@pytest.mark.parametrize(
    ("boxes", "seed"),
    [(12, 0), *(pytest.param(60, seed, marks=pytest.mark.long) for seed in range(3))],
)
def test_a_round_half_off_the_path_is_near_the_best_over_the_full_visibility_graph(
    boxes: int, seed: int
) -> None:
    rng = np.random.default_rng(seed)
    paths = shapely.MultiLineString(PATHS)
    shapes = barriers_among(rng, paths)
    places = boxes_among(rng, boxes, paths, shapes)
    best = least_round(reference_minutes(np.array([(0.0, 0.0), *places]), shapes))
    sites = [site(x, y, f"B{number}") for number, (x, y) in enumerate(places)]
    barriers = tuple(
        Barrier(
            "", "water", shapely.transform(shape, lambda at: np.column_stack(PLANE.lonlat(*at.T)))
        )
        for shape in shapes.geoms
    )
    problem = RoundProblem(
        build_network([line(*path, name=f"Path {n}") for n, path in enumerate(PATHS)])[0],
        tuple(StopRequest(at.name, at.lon, at.lat, STOP_MINUTES) for at in sites),
        site(0, 0, "Gate"),
        barriers=barriers,
        open_ground=OpenGround(REACH_M),
    )
    found = plan(problem, pace=Flat(5.0))
    assert not found.left_out
    walked = found.minutes - STOP_MINUTES * boxes
    # A point every two metres is a little worse than the best, and ours turns 1 m off a corner.
    assert 0.98 * best <= walked <= 1.03 * best
