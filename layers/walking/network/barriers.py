"""What bars a leg off the path: water, buildings, keep-out zones."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from layers.walking.network.lines import closed_on
from layers.walking.network.plane import Plane

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

KEEP_OUT = "keep_out"
"""The kind of zone that bars paths too: over water they are bridges, in buildings passages."""

BARRIER_KINDS: Mapping[str, str] = {
    KEEP_OUT: "keep-out zone",
    "building": "building",
    "water": "water",
}
"""Kinds of zone that are barriers, and what sentences call them."""

TOUCH_M = 0.05
"""Barriers are shrunk by this, so that a leg may run along a shore or a wall."""

CLEARANCE_M = 1.0
"""Legs turn at this distance from the corners of a barrier."""

FINEST_M = 0.5
"""Bends of a shore that stray less than this from a straight line are walked straight."""


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


def barriers_from(
    rows: Iterable[Mapping[str, Any]], *, on: date | None = None
) -> tuple[Barrier, ...]:
    """The zones that are barriers, from the rows of the table of zones.

    Parameters
    ----------
    on
        The day: a zone that is closed then is to be kept out of, whatever its kind, and one
        to keep out of that is closed on other days only is none. None = all year.
    """
    return tuple(
        Barrier(row.get("name") or "", kind, row["geometry"])
        for row in rows
        if row.get("geometry") is not None and not row["geometry"].is_empty
        for kind in [kind_on(row, on)]
        if kind in BARRIER_KINDS
    )


def kind_on(row: Mapping[str, Any], on: date | None) -> str:
    """What a zone is on a day: `keep_out` where it is closed then."""
    kind: str = row.get("kind") or ""
    if on is None or not row.get("closed_when"):
        return kind
    if closed_on(row, on):
        return KEEP_OUT
    return "" if kind == KEEP_OUT else kind


class BarrierIndex:
    """Barriers laid on a plane, ready to be looked up for many legs."""

    def __init__(self, barriers: Sequence[Barrier], plane: Plane) -> None:
        self.barriers, self.plane = tuple(barriers), plane
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

    def corners(self, xy: Floats, reach_m: float) -> list[Floats]:
        """Rings of corners that legs turn at, of each barrier within reach of some places."""
        chosen = self.shapes
        if np.isfinite(reach_m):
            near = self._tree.query(shapely.points(xy), predicate="dwithin", distance=reach_m)[1]
            chosen = chosen[np.unique(near)]
        around = shapely.buffer(chosen, CLEARANCE_M, join_style="mitre")
        rings = shapely.get_rings(shapely.get_parts(shapely.simplify(around, FINEST_M)))
        return [shapely.get_coordinates(ring)[:-1] for ring in rings]

    def _first(self, shapes: Any, size: int) -> list[int]:
        first = np.full(size, -1)
        query, met = self._tree.query(shapes, predicate="intersects")
        order = np.lexsort((met, query))[::-1]
        first[query[order]] = met[order]
        answer: list[int] = first.tolist()
        return answer
