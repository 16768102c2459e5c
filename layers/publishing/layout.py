"""Which square of the grid stands for each box of a trail.

One grid for the whole trail, by its strictest mark: two grids in one trail give each other
away, since the middle of the fine squares inside a coarse one is where its coarse boxes are
(200 made trails of 20 boxes: found to 7 % of the distance that the square alone leaves).

A trail that is short beside a square is one square as a whole, so that one that crosses a line
of the grid does not show on which line it is. How long it is, as a round class, is the same
wherever it is. Longer ones are shown square by square (`tests/publishing/test_attack.py`).
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pyproj
import shapely
from numpy.typing import NDArray

from layers.publishing.cells import GridCell, cell_of

_GEOD = pyproj.Geod(ellps="WGS84")
_STEPS = (1, 2, 5, 10, 20)
_UNIT_M_PER_DEGREE = 10_000.0
"""The smallest class of reach is a tenth of a square: 1 km for squares of 0.1 degrees."""

FINEST_OF_COARSE_DEG = 0.1
"""Squares of this size and larger hide a place only where nothing drawn or named is finer."""


@dataclass(frozen=True)
class Layout:
    """The squares of a trail.

    Attributes
    ----------
    size_deg
        Width and height of a square.
    cell_of_box
        The square of each box.
    reach_m
        Where one square stands for the whole trail: a round length that no two boxes are
        farther apart than; None where each box has its own square.
    coarse
        Whether a mark of a box or of a species makes the trail coarse.
    """

    size_deg: float
    cell_of_box: Mapping[str, GridCell]
    reach_m: int | None
    coarse: bool = False

    @property
    def hides_ground(self) -> bool:
        """Whether nothing drawn or named may be finer than the squares."""
        return self.coarse or self.size_deg >= FINEST_OF_COARSE_DEG

    def uncertainty_m(self, cell: GridCell) -> int:
        """Metres from the middle of a square within which every box counted in it is.

        One square for the whole trail holds at least one box; the others are no farther
        from that one than the trail reaches.
        """
        return cell.uncertainty_m + (self.reach_m or 0)


def laid_out(
    points: Mapping[str, tuple[float, float]],
    *,
    size_deg: float,
    settled: GridCell | None = None,
    coarse: bool = False,
) -> Layout:
    """The squares of boxes at some longitudes and latitudes.

    Parameters
    ----------
    settled
        The one square that stood for the whole trail before. It stays while a box is in it:
        one that jumps to its neighbour would show that the trail is on the line between them.
    coarse
        As in `Layout`.
    """
    own = {box: cell_of(*point, size_deg=size_deg) for box, point in points.items()}
    reach_m = _reach_class(_reach_m(points), size_deg) if own else None
    if reach_m is None:
        return Layout(size_deg, own, None, coarse)
    counts = Counter(own.values())
    fullest = min(counts, key=lambda cell: (-counts[cell], cell))
    whole = settled if settled is not None and settled in counts else fullest
    return Layout(size_deg, dict.fromkeys(own, whole), reach_m, coarse)


def _reach_m(points: Mapping[str, tuple[float, float]]) -> float:
    """The greatest distance between two boxes."""
    lon, lat = np.array(list(points.values())).T
    # Beside the 180th meridian, count from the first box.
    lon = lon[0] + (lon - lon[0] + 180.0) % 360.0 - 180.0
    outline = shapely.convex_hull(shapely.multipoints(np.column_stack([lon, lat])))
    corners: NDArray[np.float64] = shapely.get_coordinates(outline)
    first, second = np.triu_indices(len(corners), k=1)
    if not len(first):
        return 0.0
    *_, lengths_m = _GEOD.inv(*corners[first].T, *corners[second].T)
    return float(np.max(lengths_m))


def _reach_class(reach_m: float, size_deg: float) -> int | None:
    """The round length above; None where the trail is long beside a square."""
    unit_m = size_deg * _UNIT_M_PER_DEGREE
    return next((math.ceil(step * unit_m) for step in _STEPS if reach_m <= step * unit_m), None)
