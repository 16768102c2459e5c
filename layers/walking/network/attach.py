"""Boxes and places tied to the network by a leg off the path."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from layers.errors import BadValue
from layers.walking.network.barriers import Barrier, BarrierIndex, straight_network
from layers.walking.network.graph import Network, Pieces, measured, steps_m
from layers.walking.network.plane import Plane, places_along, project

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

FARTHEST_M = 500.0
"""Nobody is sent farther than this off the path (common practice, no source)."""

ACROSS_M = 100.0
"""A path connected with the start is preferred up to this distance over a nearer one
that is not (common practice, no source)."""

SPACING_M = 5.0
"""Where the straight way to the nearest point of a path is barred, other points are
tried at this spacing."""

SAME_PLACE_M = 0.01
"""Feet within a centimetre along a path are one node."""


@dataclass(frozen=True)
class Site:
    """A box or a place to be reached.

    `watch_only` says that it is looked at from the path and not walked up to.
    """

    name: str
    lon: float
    lat: float
    watch_only: bool = False

    def __post_init__(self) -> None:
        if not (abs(self.lon) <= 360.0 and abs(self.lat) <= 90.0):
            raise BadValue(f"a place on earth for {self.name}", f"lon {self.lon}, lat {self.lat}")


@dataclass(frozen=True, eq=False)
class Attached:
    """A network with sites tied to it.

    Attributes
    ----------
    network
        The network, cut where sites are tied to it.
    sites
        The sites, in the order given.
    node
        Node at which each site leaves the path, -1 where it cannot be reached.
    off_path_m
        Length of the leg off the path; 0 for a site that is looked at from the path.
    away_m
        Distance of each site from its node, also where it is only looked at.
    reasons
        Why a site cannot be reached; empty text where it can.
    straight
        Whether the trail has no paths, so that all legs are straight.
    """

    network: Network
    sites: tuple[Site, ...]
    node: Ints
    off_path_m: Floats
    away_m: Floats
    reasons: tuple[str, ...]
    straight: bool


def attach(
    network: Network, sites: Sequence[Site], *, barriers: Sequence[Barrier] = ()
) -> Attached:
    """Tie each site to the nearest point of the network that it can be reached from.

    Parameters
    ----------
    network
        From `build_network`. Without any edge, sites are tied to each other by straight
        legs around the barriers.
    barriers
        No leg off the path crosses any of these.
    sites
        The walk starts at the first; paths connected with it come first.
    """
    sites = tuple(sites)
    lon = np.array([site.lon for site in sites])
    lat = np.array([site.lat for site in sites])
    plane = Plane.around(np.r_[network.vertex_lon, lon], np.r_[network.vertex_lat, lat])
    barrier_index = BarrierIndex(barriers, plane)
    xy = plane.xy(lon, lat) if sites else np.empty((0, 2))
    within = barrier_index.holding(xy)
    reasons = [
        f"it stands in {barriers[zone].words}" if zone >= 0 and not site.watch_only else ""
        for site, zone in zip(sites, within, strict=True)
    ]
    if network.edges == 0:
        straight, node = straight_network(
            lon, lat, reasons, barrier_index=barrier_index, plane=plane
        )
        none = np.zeros(len(sites))
        return Attached(straight, sites, node, none, none.copy(), tuple(reasons), straight=True)
    snaps = _SnapIndex(network, plane, barrier_index)
    edge = np.full(len(sites), -1)
    along = np.zeros(len(sites))
    part = snaps.part_of(xy[0]) if sites else 0
    for number, site in enumerate(sites):
        if reasons[number]:
            continue
        found = snaps.nearest(xy[number], part, watch_only=site.watch_only)
        if isinstance(found, str):
            reasons[number] = found
        else:
            edge[number], along[number] = found
    cut, node = _cut(network, edge, along, plane)
    tied = node >= 0
    away = np.zeros(len(sites))
    for number in np.flatnonzero(tied).tolist():
        ends = np.array([lon[number], cut.lon[node[number]]])
        away[number] = steps_m(ends, np.array([lat[number], cut.lat[node[number]]]))[0]
    looks = np.array([site.watch_only for site in sites], bool)
    off_path = np.where(looks, 0.0, away)
    return Attached(cut, sites, node, off_path, away, tuple(reasons), straight=False)


SnapPoint = tuple[int, float]
"""An edge, and how far along it."""


class _SnapIndex:
    """Finds where on the paths a site is tied."""

    def __init__(self, network: Network, plane: Plane, barrier_index: BarrierIndex) -> None:
        self._network, self._barriers = network, barrier_index
        xy = plane.xy(network.vertex_lon, network.vertex_lat)
        inner = np.ones(len(xy) - 1, bool)
        inner[network.offset[1:-1] - 1] = False
        self._edge = np.repeat(np.arange(network.edges), np.diff(network.offset) - 1)
        self._begin, self._end = xy[:-1][inner], xy[1:][inner]
        length = np.linalg.norm(self._end - self._begin, axis=1)
        total = np.r_[0.0, np.cumsum(length)]
        first = np.searchsorted(self._edge, self._edge)
        self._along, self._length = total[:-1] - total[first], length
        self._part = network.parts()[network.u][self._edge]
        shapes = shapely.linestrings(np.stack([self._begin, self._end], axis=1))
        self._tree = shapely.STRtree(np.asarray(shapes))

    def part_of(self, xy: Floats) -> int:
        """The connected part that a start belongs to: the longest if it is close by."""
        point = shapely.Point(xy)
        if (self._part[self._tree.query(point, predicate="dwithin", distance=ACROSS_M)] == 0).any():
            return 0
        return int(self._part[self._tree.nearest(point)])

    def nearest(self, xy: Floats, part: int, *, watch_only: bool) -> SnapPoint | str:
        """The snap of a site, or why there is none."""
        point = shapely.Point(xy)
        # Most sites are near a path of the part, so a small circle is tried first.
        for reach_m in (ACROSS_M / 2.0, FARTHEST_M):
            near = self._tree.query(point, predicate="dwithin", distance=reach_m)
            if (self._part[near] == part).any():
                break
        if len(near) == 0:
            return f"it is more than {FARTHEST_M:.0f} m from every path"
        fraction, gap = project(np.tile(xy, (len(near), 1)), self._begin[near], self._end[near])
        own = self._part[near] == part
        nearest = [int(gap.argmin())]
        apart = not own.any() or (
            gap[own].min() > max(ACROSS_M, gap.min())
            and (watch_only or self._clear(xy, near[nearest], fraction[nearest]))
        )
        if apart:
            name = self._network.lines[self._network.line[self._edge[near[nearest[0]]]]].name
            return f"{name}, the path nearest to it, does not connect with the start"
        near, fraction, gap = near[own], fraction[own], gap[own]
        order = np.lexsort((near, gap))
        best = order[0]
        if watch_only or self._clear(xy, near[[best]], fraction[[best]]):
            return self._snap(near[best], fraction[best])
        return self._around(xy, point, part)

    def _places(self, segment: Ints, fraction: Floats) -> Floats:
        begin: Floats = self._begin[segment]
        places: Floats = begin + fraction[:, None] * (self._end[segment] - begin)
        return places

    def _clear(self, xy: Floats, segment: Ints, fraction: Floats) -> bool:
        """Whether a straight leg from any of some places on segments is in the clear."""
        legs = np.tile(xy, (len(segment), 1)), self._places(segment, fraction)
        return min(self._barriers.crossed(*legs)) < 0

    def _snap(self, segment: int, fraction: float) -> SnapPoint:
        along = float(self._along[segment] + fraction * self._length[segment])
        return int(self._edge[segment]), along

    def _around(self, xy: Floats, point: shapely.Point, part: int) -> SnapPoint | str:
        """The nearest point of a path in the clear, among points close together."""
        near = self._tree.query(point, predicate="dwithin", distance=FARTHEST_M)
        near = near[self._part[near] == part]
        counts = np.ceil(self._length[near] / SPACING_M).astype(int) + 2
        segment = np.repeat(near, counts)
        fraction = np.concatenate([np.linspace(0.0, 1.0, count) for count in counts])
        nearest, _ = project(np.tile(xy, (len(near), 1)), self._begin[near], self._end[near])
        segment, fraction = np.r_[segment, near], np.r_[fraction, nearest]
        snaps = self._places(segment, fraction)
        gap = np.linalg.norm(snaps - xy, axis=1)
        order = np.lexsort((segment, gap))
        order = order[gap[order] <= FARTHEST_M]
        crossed = np.array(self._barriers.crossed(np.tile(xy, (len(order), 1)), snaps[order]))
        clear = order[crossed < 0]
        if len(clear):
            return self._snap(segment[clear[0]], fraction[clear[0]])
        barrier = self._barriers.barriers[crossed[0]]
        return f"every straight way to it from the paths is barred, the nearest by {barrier.words}"


def _cut(network: Network, edge: Ints, along: Floats, plane: Plane) -> tuple[Network, Ints]:
    """The network with a node at each snap, and the node of each snap."""
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
