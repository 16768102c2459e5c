"""What nobody walks through off the path: water, buildings, keep-out zones."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from layers.walking.network.plane import Plane

Floats = NDArray[np.float64]

BARRIER_KINDS: Mapping[str, str] = {
    "keep_out": "keep-out zone",
    "building": "building",
    "water": "water",
}
"""Kinds of zone that are barriers, and what sentences call them."""

TOUCH_M = 0.05
"""Barriers are shrunk by this, so that a leg may run along a shore or a wall."""


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


class Ground:
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
