"""A network cut at points along its edges."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from layers.walking.network.graph import Network, Pieces, measured
from layers.walking.network.plane import Plane, places_along

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SAME_PLACE_M = 0.01
"""Points within a centimetre along a path are one node."""


def cut_at(network: Network, edge: Ints, along: Floats, plane: Plane) -> tuple[Network, Ints]:
    """The network with a node at each of some points of edges, and the node of each point.

    Points on edge -1 get no node, which is -1.
    """
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
        if number not in by_edge:
            pieces.add(ends, line, lon=lon, lat=lat, height_m=height)
            continue
        xy = plane.xy(lon, lat)
        at = np.r_[0.0, np.cumsum(np.linalg.norm(np.diff(xy, axis=0), axis=1))]
        stops = [(0.0, ends[0])]
        for snap in by_edge[number]:
            here = float(along[snap])
            if at[-1] - here <= SAME_PLACE_M:
                node[snap] = ends[1]
                continue
            if here - stops[-1][0] > SAME_PLACE_M:
                stops.append((here, network.nodes + len(more)))
                snap_lon, snap_lat = places_along(np.array([here]), at, lon=lon, lat=lat)
                snap_height = float(np.interp(here, at, height))
                more.append((float(snap_lon[0]), float(snap_lat[0]), snap_height))
            node[snap] = stops[-1][1]
        stops.append((float(at[-1]), ends[1]))
        for (begin, u), (end, v) in pairwise(stops):
            inside = (at > begin) & (at < end)
            where = np.r_[begin, at[inside], end]
            part_lon, part_lat = places_along(where, at, lon=lon, lat=lat)
            part_height = np.asarray(np.interp(where, at, height))
            pieces.add((u, v), line, lon=part_lon, lat=part_lat, height_m=part_height)
    extra = np.array(more).reshape(-1, 3)
    cut = measured(
        pieces,
        network.lines,
        lon=np.r_[network.lon, extra[:, 0]],
        lat=np.r_[network.lat, extra[:, 1]],
        height_m=np.r_[network.height_m, extra[:, 2]],
    )
    return cut, node
