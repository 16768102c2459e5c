"""A network cut at points along its edges."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from layers.walking.network.graph import Edges, Network, measured
from layers.walking.network.plane import Plane, places_along

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SAME_PLACE_M = 0.01
"""A point within a centimetre of the one before it along a path is the same node."""

SAME_VERTEX_M = 1e-6
"""A vertex this near to a point is the point."""

APART_M = 1.0
"""Between the end of one edge and the start of the next, where all edges are laid end to end."""


def cut_at(network: Network, edge: Ints, along: Floats, plane: Plane) -> tuple[Network, Ints]:
    """The network with a node at each of some points of edges, and the node of each point.

    Points on edge -1 get no node, which is -1. All edges are cut at once, laid end to end
    on one line.
    """
    node = np.full(len(edge), -1)
    order = np.lexsort((along, edge))
    order = order[edge[order] >= 0]
    if len(order) == 0:
        return network, node
    first, last = network.offset[:-1], network.offset[1:] - 1
    xy = plane.xy(network.vertex_lon, network.vertex_lat)
    step = np.r_[0.0, np.linalg.norm(np.diff(xy, axis=0), axis=1)]
    step[first[1:]] = APART_M
    at = np.cumsum(step)
    own = edge[order]
    here = np.clip(at[first[own]] + along[order], at[first[own]], at[last[own]])
    new = np.r_[True, (np.diff(here) > SAME_PLACE_M) | (np.diff(own) > 0)]
    own, where = own[new], here[new]
    by_end = at[last[own]] - where <= SAME_PLACE_M
    inner = ~by_end & (where - at[first[own]] > SAME_PLACE_M)
    place = np.where(by_end, network.v[own], network.u[own])
    place[inner] = network.nodes + np.arange(int(inner.sum()))
    node[order] = place[np.cumsum(new) - 1]
    cuts = place[inner], own[inner], where[inner]
    return _pieces(network, at, cuts), node


def _pieces(network: Network, at: Floats, cuts: tuple[Ints, Ints, Floats]) -> Network:
    """The network cut at new nodes, on edges, at places of the line that all edges are laid on."""
    node, own, where = cuts
    lon, lat = places_along(where, at, lon=network.vertex_lon, lat=network.vertex_lat)
    height_m = np.interp(where, at, network.vertex_height_m)
    none, edge = (
        np.full(len(node), -1),
        np.repeat(np.arange(network.edges), np.diff(network.offset)),
    )
    begins, ends = np.full(len(at), -1), np.full(len(at), -1)
    begins[network.offset[:-1]], ends[network.offset[1:] - 1] = network.u, network.v
    beside = np.r_[-np.inf, where, np.inf]
    nearest = np.searchsorted(where, at)
    old = np.minimum(at - beside[nearest], beside[nearest + 1] - at) > SAME_VERTEX_M
    # A cut is the last vertex of one piece and the first of the next.
    order = np.argsort(np.r_[at[old], where, where], kind="stable")
    begins = np.r_[begins[old], none, node][order]
    ends = np.r_[ends[old], node, none][order]
    start = np.flatnonzero(begins >= 0)
    edges = Edges(
        u=begins[start],
        v=ends[ends >= 0],
        line=network.line[np.r_[edge[old], own, own][order][start]],
        offset=np.r_[start, len(order)],
        lon=np.r_[network.vertex_lon[old], lon, lon][order],
        lat=np.r_[network.vertex_lat[old], lat, lat][order],
        height_m=np.r_[network.vertex_height_m[old], height_m, height_m][order],
    )
    return measured(
        edges,
        network.lines,
        lon=np.r_[network.lon, lon],
        lat=np.r_[network.lat, lat],
        height_m=np.r_[network.height_m, height_m],
    )
