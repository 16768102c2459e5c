"""The plain ways that our rounds are held against: to order stops, and to cut paths at points."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from layers.walking.network.cutting import SAME_PLACE_M
from layers.walking.network.graph import Network, Pieces, measured
from layers.walking.network.plane import Plane, places_along

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def plain_tour(cost: Ints) -> Ints:
    """Nearest first, then 2-opt: stretches are turned round until none gains by it."""
    size = len(cost)
    left = np.ones(size, bool)
    tour = np.zeros(size, np.int64)
    for step in range(1, size):
        left[tour[step - 1]] = False
        tour[step] = int(np.where(left, cost[tour[step - 1]], np.iinfo(np.int64).max).argmin())
    better = True
    while better:
        better = False
        for first in range(1, size - 1):
            last = np.arange(first + 1, size)
            after = tour[(last + 1) % size]
            gain = (
                cost[tour[first - 1], tour[first]]
                + cost[tour[last], after]
                - cost[tour[first - 1], tour[last]]
                - cost[tour[first], after]
            )
            best = int(gain.argmax())
            if gain[best] > 0:
                tour[first : last[best] + 1] = tour[first : last[best] + 1][::-1].copy()
                better = True
    return tour


def plain_cut(network: Network, edge: Ints, along: Floats, plane: Plane) -> tuple[Network, Ints]:
    """What `cut_at` gives, one edge after the other and one piece after the other."""
    node = np.full(len(edge), -1)
    by_edge: dict[int, list[int]] = {}
    for number in np.lexsort((along, edge)).tolist():
        if edge[number] >= 0:
            by_edge.setdefault(int(edge[number]), []).append(number)
    pieces = Pieces.none()
    more: list[tuple[float, float, float]] = []
    for number in range(network.edges):
        lon, lat, height = network.vertices(number)
        ends, line = (int(network.u[number]), int(network.v[number])), int(network.line[number])
        xy = plane.xy(lon, lat)
        at = np.r_[0.0, np.cumsum(np.linalg.norm(np.diff(xy, axis=0), axis=1))]
        stops = [(0.0, ends[0])]
        for point in by_edge.get(number, []):
            here = float(along[point])
            if at[-1] - here <= SAME_PLACE_M:
                node[point] = ends[1]
                continue
            if here - stops[-1][0] > SAME_PLACE_M:
                stops.append((here, network.nodes + len(more)))
                cut_lon, cut_lat = places_along(np.array([here]), at, lon=lon, lat=lat)
                cut_height = float(np.interp(here, at, height))
                more.append((float(cut_lon[0]), float(cut_lat[0]), cut_height))
            node[point] = stops[-1][1]
        stops.append((float(at[-1]), ends[1]))
        for (begin, u), (end, v) in pairwise(stops):
            where = np.r_[begin, at[(at > begin) & (at < end)], end]
            part_lon, part_lat = places_along(where, at, lon=lon, lat=lat)
            part_height = np.asarray(np.interp(where, at, height))
            pieces.add((u, v), line, lon=part_lon, lat=part_lat, height_m=part_height)
    extra = np.array(more).reshape(-1, 3)
    columns = zip((network.lon, network.lat, network.height_m), extra.T, strict=True)
    lon, lat, height = (np.r_[before, after] for before, after in columns)
    return measured(pieces.edges(), network.lines, lon=lon, lat=lat, height_m=height), node
