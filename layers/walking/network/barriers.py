"""Barriers off the path (water, buildings, keep-out zones), and straight legs around them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from layers.walking.nearest import WGS84
from layers.walking.network.graph import Network
from layers.walking.network.lines import OFF_PATH, Line
from layers.walking.network.plane import Plane

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

BARRIER_KINDS: Mapping[str, str] = {
    "keep_out": "keep-out zone",
    "building": "building",
    "water": "water",
}
"""Kinds of zone that are barriers, and what sentences call them."""

TOUCH_M = 0.05
"""Barriers are shrunk by this, so that a leg may run along a shore or a wall."""


CLEARANCE_M = 1.0
"""Legs turn at this distance from the corners of a barrier."""


@dataclass(frozen=True)
class Barrier:
    """One zone that no off-path leg crosses; `shape` is in degrees on WGS84."""

    name: str
    kind: str
    shape: BaseGeometry

    @property
    def words(self) -> str:
        """What a sentence calls it, such as "water (Mill Pond)"."""
        called = BARRIER_KINDS.get(self.kind, self.kind)
        return f"{called} ({self.name})" if self.name else called


def barriers_from(rows: Iterable[Mapping[str, Any]]) -> tuple[Barrier, ...]:
    """The zones that are barriers, from the rows of the table of zones."""
    return tuple(
        Barrier(row.get("name") or "", row["kind"], row["geometry"])
        for row in rows
        if row.get("kind") in BARRIER_KINDS
        and row.get("geometry") is not None
        and not row["geometry"].is_empty
    )


class BarrierIndex:
    """Barriers laid on a plane, ready to be asked about many legs."""

    def __init__(self, barriers: Sequence[Barrier], plane: Plane) -> None:
        self.barriers = tuple(barriers)
        shapes = [
            shapely.transform(shapely.make_valid(barrier.shape), lambda at: plane.xy(*at.T))
            for barrier in barriers
        ]
        self.shapes: NDArray[Any] = shapely.buffer(np.array(shapes, object), -TOUCH_M)
        self._tree = shapely.STRtree(self.shapes)

    def holding(self, xy: Floats) -> list[int]:
        """For each place the barrier it stands in, -1 for none."""
        return self._first(shapely.points(xy), len(xy))

    def crossed(self, begin: Floats, end: Floats) -> list[int]:
        """For each straight leg the first barrier it meets, -1 for none."""
        return self._first(shapely.linestrings(np.stack([begin, end], axis=1)), len(begin))

    def _first(self, shapes: Any, size: int) -> list[int]:
        first = np.full(size, -1)
        asked, met = self._tree.query(shapes, predicate="intersects")
        order = np.lexsort((met, asked))[::-1]
        first[asked[order]] = met[order]
        answer: list[int] = first.tolist()
        return answer


def straight_network(
    lon: Floats, lat: Floats, reasons: Sequence[str], *, barrier_index: BarrierIndex, plane: Plane
) -> tuple[Network, Ints]:
    """Every straight leg in the clear between sites and corners of barriers.

    The second value is the node of each site, -1 where `reasons` says that it cannot
    be reached.
    """
    corners = np.concatenate(
        [
            np.empty((0, 2)),
            *(
                shapely.get_coordinates(shapely.buffer(shape, CLEARANCE_M, join_style="mitre"))
                for shape in barrier_index.shapes
            ),
        ]
    )
    open_sites = np.flatnonzero([not reason for reason in reasons])
    node = np.full(len(reasons), -1)
    node[open_sites] = np.arange(len(open_sites))
    corner_lon, corner_lat = plane.lonlat(*corners.T)
    all_xy = np.concatenate([plane.xy(lon, lat)[open_sites], corners])
    all_lon, all_lat = np.r_[lon[open_sites], corner_lon], np.r_[lat[open_sites], corner_lat]
    u, v = np.triu_indices(len(all_xy), k=1)
    clear = np.array(barrier_index.crossed(all_xy[u], all_xy[v]), np.int64) < 0
    u, v = u[clear].astype(np.int64), v[clear].astype(np.int64)
    length_m = np.asarray(WGS84.inv(all_lon[u], all_lat[u], all_lon[v], all_lat[v])[2])
    nothing = np.full(2, np.nan)
    line = Line("", OFF_PATH, "all", None, False, nothing, nothing, nothing)
    pairs = np.column_stack([u, v]).ravel()
    network = Network(
        lines=(line,),
        lon=all_lon,
        lat=all_lat,
        height_m=np.full(len(all_lon), np.nan),
        u=u,
        v=v,
        line=np.zeros(len(u), np.int64),
        one_way=np.zeros(len(u), bool),
        length_m=length_m,
        up_m=np.zeros(len(u)),
        down_m=np.zeros(len(u)),
        offset=2 * np.arange(len(u) + 1),
        vertex_lon=all_lon[pairs],
        vertex_lat=all_lat[pairs],
        vertex_height_m=np.full(2 * len(u), np.nan),
    )
    return network, node
