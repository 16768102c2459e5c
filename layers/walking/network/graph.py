"""A network of paths as plain arrays."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from layers.walking.nearest import WGS84
from layers.walking.network.lines import OFF_PATH, Line

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Network:
    """Nodes and the edges between them.

    Attributes
    ----------
    lines
        The drawn lines; `line` holds positions in it.
    lon, lat, height_m
        Of each node; height NaN where not known.
    u, v
        Nodes at the start and the end of each edge.
    line
        The line that each edge is part of.
    one_way
        Whether an edge may be walked only from `u` to `v`.
    pace_share
        Share of the pace on paths at which each edge is walked: 1 on a path.
    length_m, up_m, down_m
        Of each edge from `u` to `v`: geodesic length, and climb and descent without
        jitter, 0 where heights are not known.
    offset
        Vertices of edge i are `offset[i]:offset[i + 1]` of the vertex arrays, those
        at both its nodes included; shape (edges + 1,).
    vertex_lon, vertex_lat, vertex_height_m
        Vertices of all edges.
    """

    lines: tuple[Line, ...]
    lon: Floats
    lat: Floats
    height_m: Floats
    u: Ints
    v: Ints
    line: Ints
    one_way: NDArray[np.bool_]
    pace_share: Floats
    length_m: Floats
    up_m: Floats
    down_m: Floats
    offset: Ints
    vertex_lon: Floats
    vertex_lat: Floats
    vertex_height_m: Floats

    @property
    def nodes(self) -> int:
        return len(self.lon)

    @property
    def edges(self) -> int:
        return len(self.u)

    def vertices(self, edge: int) -> tuple[Floats, Floats, Floats]:
        """Longitudes, latitudes and heights along one edge."""
        part = slice(self.offset[edge], self.offset[edge + 1])
        return self.vertex_lon[part], self.vertex_lat[part], self.vertex_height_m[part]

    def parts(self) -> Ints:
        """For each node the number of the connected part it is in, the longest part 0."""
        if self.nodes == 0:
            return np.empty(0, np.int64)
        graph = coo_array(
            (np.ones(self.edges, np.int8), (self.u, self.v)), shape=(self.nodes, self.nodes)
        ).tocsr()
        count, part = connected_components(graph, directed=False)
        length_m = np.bincount(part[self.u], weights=self.length_m, minlength=count)
        rank = np.empty(count, np.int64)
        rank[np.argsort(-length_m, kind="stable")] = np.arange(count)
        ranked: Ints = rank[part]
        return ranked


@dataclass(frozen=True)
class Edges:
    """Edges before they are measured; attributes as in `Network`, those of vertices last."""

    u: Ints
    v: Ints
    line: Ints
    offset: Ints
    lon: Floats
    lat: Floats
    height_m: Floats


@dataclass(frozen=True)
class Pieces:
    """Edges collected one by one: for each its nodes, its line and its vertices."""

    u: list[int]
    v: list[int]
    line: list[int]
    lon: list[Floats]
    lat: list[Floats]
    height_m: list[Floats]

    @classmethod
    def none(cls) -> Pieces:
        return cls([], [], [], [], [], [])

    def add(
        self, nodes: tuple[int, int], line: int, *, lon: Floats, lat: Floats, height_m: Floats
    ) -> None:
        self.u.append(nodes[0])
        self.v.append(nodes[1])
        self.line.append(line)
        self.lon.append(lon)
        self.lat.append(lat)
        self.height_m.append(height_m)

    def edges(self) -> Edges:
        """All of them as arrays."""
        none = np.empty(0)
        return Edges(
            u=np.array(self.u, np.int64),
            v=np.array(self.v, np.int64),
            line=np.array(self.line, np.int64),
            offset=np.r_[0, np.cumsum([len(part) for part in self.lon])].astype(np.int64),
            lon=np.concatenate([none, *self.lon]),
            lat=np.concatenate([none, *self.lat]),
            height_m=np.concatenate([none, *self.height_m]),
        )


def measured(
    edges: Edges, lines: tuple[Line, ...], *, lon: Floats, lat: Floats, height_m: Floats
) -> Network:
    """The network of some edges; `lon`, `lat` and `height_m` are those of the nodes."""
    offset = edges.offset
    step_m = steps_m(edges.lon, edges.lat)
    rise_m = np.nan_to_num(np.diff(edges.height_m), nan=0.0)
    one_way = np.array([part.one_way for part in lines], bool)
    return Network(
        lines=lines,
        lon=lon,
        lat=lat,
        height_m=height_m,
        u=edges.u,
        v=edges.v,
        line=edges.line,
        one_way=one_way[edges.line],
        pace_share=np.ones(len(edges.line)),
        length_m=by_edge(step_m, offset),
        up_m=by_edge(np.maximum(rise_m, 0.0), offset),
        down_m=by_edge(np.maximum(-rise_m, 0.0), offset),
        offset=offset,
        vertex_lon=edges.lon,
        vertex_lat=edges.lat,
        vertex_height_m=edges.height_m,
    )


@dataclass(frozen=True)
class Legs:
    """Straight legs off the path between nodes; `pace_share` as in `Network`."""

    u: Ints
    v: Ints
    pace_share: Floats


def with_legs(network: Network, lon: Floats, lat: Floats, legs: Legs) -> Network:
    """The network with more nodes, and with straight legs as edges of one line `OFF_PATH`.

    The new nodes come after those of the network, without heights: open ground is level.
    """
    node_lon, node_lat = np.r_[network.lon, lon], np.r_[network.lat, lat]
    ends = np.column_stack([legs.u, legs.v])
    length_m = np.asarray(
        WGS84.inv(*(at[node] for node in ends.T for at in (node_lon, node_lat)))[2]
    )
    nothing = np.full(2, np.nan)
    line = Line("", OFF_PATH, "all", None, False, nothing, nothing, nothing)
    count = len(legs.u)
    none, both = np.zeros(count), ends.ravel()
    last = int(network.offset[-1]) if len(network.offset) else 0
    return Network(
        lines=(*network.lines, line),
        lon=node_lon,
        lat=node_lat,
        height_m=np.r_[network.height_m, np.full(len(lon), np.nan)],
        u=np.r_[network.u, legs.u],
        v=np.r_[network.v, legs.v],
        line=np.r_[network.line, np.full(count, len(network.lines))],
        one_way=np.r_[network.one_way, np.zeros(count, bool)],
        pace_share=np.r_[network.pace_share, legs.pace_share],
        length_m=np.r_[network.length_m, length_m],
        up_m=np.r_[network.up_m, none],
        down_m=np.r_[network.down_m, none],
        offset=np.r_[network.offset, last + 2 * np.arange(1, count + 1)],
        vertex_lon=np.r_[network.vertex_lon, node_lon[both]],
        vertex_lat=np.r_[network.vertex_lat, node_lat[both]],
        vertex_height_m=np.r_[network.vertex_height_m, np.full(2 * count, np.nan)],
    )


def steps_m(lon: Floats, lat: Floats) -> Floats:
    """Geodesic length from each place to the next, one fewer than places."""
    if len(lon) < 2:
        return np.empty(0)
    return np.asarray(WGS84.inv(lon[:-1], lat[:-1], lon[1:], lat[1:])[2], np.float64)


def by_edge(steps: Floats, offset: Ints) -> Floats:
    """Sums over each edge of a value per step from one vertex to the next.

    The step from the last vertex of an edge to the first of the next belongs to neither.
    """
    own = steps.copy()
    own[offset[1:-1] - 1] = 0.0
    if len(offset) < 2:
        return np.empty(0)
    sums: Floats = np.add.reduceat(np.r_[own, 0.0], offset[:-1])
    return sums
