"""Where on the paths a site is tied: the nearest point of them in the clear."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from layers.walking.network.barriers import BarrierIndex
from layers.walking.network.graph import Network
from layers.walking.network.open_ground import Stretches
from layers.walking.network.plane import Plane, project

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

FARTHEST_M = 500.0
"""No round goes to a box farther than this off the path (common practice, no source)."""

FARTHEST_END_M = 5000.0
"""A start or an end farther than this from every path is likely misplaced."""

ACROSS_M = 100.0
"""A path connected with the start is preferred up to this distance over a nearer one
that is not (common practice, no source)."""

SPACING_M = 5.0
"""Where the straight way to the nearest point of a path is barred, other points are
tried at this spacing."""


APART = "does not connect with the start"
"""How the reason of a site ends whose paths lead nowhere."""

SnapPoint = tuple[int, float]
"""An edge, and how far along it."""


@dataclass(frozen=True)
class NoSnap:
    """Why a site cannot be tied to a path; `apart` if it cannot be reached otherwise either."""

    reason: str
    apart: bool = False


class SnapIndex:
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

    def stretches(self, part: int) -> Stretches:
        """The straight stretches of one connected part."""
        own = self._part == part
        return Stretches(
            self._begin[own], self._end[own], self._edge[own], self._along[own], self._length[own]
        )

    def nearest(
        self, xy: Floats, part: int, *, watch_only: bool, reach_m: float
    ) -> SnapPoint | NoSnap:
        """The snap of a site within reach, or why there is none."""
        point = shapely.Point(xy)
        # Most sites are near a path of the part, so a small circle is tried first.
        for radius_m in (ACROSS_M / 2.0, FARTHEST_M, reach_m):
            near = self._tree.query(point, predicate="dwithin", distance=radius_m)
            if (self._part[near] == part).any():
                break
        if len(near) == 0:
            return NoSnap(f"it is more than {reach_m:.0f} m from every path")
        fraction, gap = project(np.tile(xy, (len(near), 1)), self._begin[near], self._end[near])
        own = self._part[near] == part
        nearest = [int(gap.argmin())]
        apart = not own.any() or (
            gap[own].min() > max(ACROSS_M, gap.min())
            and (watch_only or self._clear(xy, near[nearest], fraction[nearest]))
        )
        if apart:
            name = self._network.lines[self._network.line[self._edge[near[nearest[0]]]]].name
            return NoSnap(f"{name}, the path nearest to it, {APART}", apart=True)
        near, fraction, gap = near[own], fraction[own], gap[own]
        order = np.lexsort((near, gap))
        best = order[0]
        if watch_only or self._clear(xy, near[[best]], fraction[[best]]):
            return self._snap(near[best], fraction[best])
        return self._around(xy, point, part, reach_m)

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

    def _around(
        self, xy: Floats, point: shapely.Point, part: int, reach_m: float
    ) -> SnapPoint | NoSnap:
        """The nearest point of a path in the clear, among points close together."""
        near = self._tree.query(point, predicate="dwithin", distance=reach_m)
        near = near[self._part[near] == part]
        counts = np.ceil(self._length[near] / SPACING_M).astype(int) + 2
        segment = np.repeat(near, counts)
        fraction = np.concatenate([np.linspace(0.0, 1.0, count) for count in counts])
        nearest, _ = project(np.tile(xy, (len(near), 1)), self._begin[near], self._end[near])
        segment, fraction = np.r_[segment, near], np.r_[fraction, nearest]
        snaps = self._places(segment, fraction)
        gap = np.linalg.norm(snaps - xy, axis=1)
        order = np.lexsort((segment, gap))
        order = order[gap[order] <= reach_m]
        crossed = np.array(self._barriers.crossed(np.tile(xy, (len(order), 1)), snaps[order]))
        clear = order[crossed < 0]
        if len(clear):
            return self._snap(segment[clear[0]], fraction[clear[0]])
        barrier = self._barriers.barriers[crossed[0]]
        return NoSnap(
            f"every straight way to it from the paths is barred, the nearest by {barrier.words}"
        )
