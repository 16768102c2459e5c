"""How close a stranger comes to the boxes with nothing but what is published.

Several ways of guessing, each from the published squares and numbers alone. The keeper is shown
the one that comes closest to her own trail; the tests hold every way against 300 made trails.
The strongest of them, `_by_shape`, believes that boxes stand some 70 to 170 m apart on a line or
in a block, lays such trails everywhere, and keeps those that would give the published numbers.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
import shapely
from numpy.typing import NDArray

from layers.publishing.values import Cell, Path

Metres = NDArray[np.float64]
"""Shape (n, 2): east and north in a plane, good to a per cent over the squares of one trail."""

SPACINGS_M = (70.0, 110.0, 170.0)
"""Between neighbouring boxes, as the stranger believes (common practice, no source)."""

METRES_PER_DEGREE = 111_195.0
"""Of latitude, on a sphere of 6371 km."""

_DIRECTIONS = 8
_MAX_POINTS = 32
"""Points by which a trail that is tried is drawn."""

_TRIES_PER_SIDE = 8
"""Trails are tried at this many steps along the side of a square."""

_MAX_SQUARES = 60
"""Beyond these the middle of each square says nearly all: the shape is not tried."""


@dataclass(frozen=True)
class Plane:
    """Metres around a place."""

    lon: float
    lat: float

    @property
    def _east_m(self) -> float:
        return METRES_PER_DEGREE * max(math.cos(math.radians(self.lat)), 0.01)

    def metres(self, lon: NDArray[np.float64], lat: NDArray[np.float64]) -> Metres:
        # Across the 180th meridian the shorter way.
        east = (lon - self.lon + 180.0) % 360.0 - 180.0
        return np.column_stack([east * self._east_m, (lat - self.lat) * METRES_PER_DEGREE])


@dataclass(frozen=True)
class Squares:
    """The published squares in a plane."""

    west_south: Metres
    side: Metres
    boxes: NDArray[np.float64]
    paths_middle: Metres | None = None

    @property
    def middle(self) -> Metres:
        return self.west_south + self.side / 2


def squares_of(cells: Sequence[Cell], plane: Plane, paths: Sequence[Path] = ()) -> Squares:
    edges = np.array([cell.bounds for cell in cells])
    low = plane.metres(edges[:, 0], edges[:, 1])
    return Squares(
        low,
        plane.metres(edges[:, 2], edges[:, 3]) - low,
        np.array([float(cell.boxes) for cell in cells]),
        _middle_of(paths, plane),
    )


def _middle_of(paths: Sequence[Path], plane: Plane) -> Metres | None:
    if not paths:
        return None
    corners = [np.array(path.line.coords) for path in paths]
    drawn = shapely.MultiLineString([plane.metres(*corner.T) for corner in corners])
    middle: Metres = shapely.get_coordinates(shapely.centroid(drawn))[0]
    return middle


def _by_middle(squares: Squares) -> Metres:
    """Knows the square alone: what every other way is compared with."""
    return squares.middle


def _by_weight(squares: Squares) -> Metres:
    """The middle of all boxes, or the place of the square that is nearest to it."""
    weight = np.maximum(squares.boxes, 1.0)
    mean = (squares.middle * weight[:, None]).sum(axis=0) / weight.sum()
    inside: Metres = np.clip(mean, squares.west_south, squares.west_south + squares.side)
    return inside


def _by_neighbour(squares: Squares) -> Metres:
    """The place of each square that is nearest to the middle of the fullest one."""
    fullest = squares.middle[int(np.argmax(squares.boxes))]
    inside: Metres = np.clip(fullest, squares.west_south, squares.west_south + squares.side)
    return inside


def _by_paths(squares: Squares) -> Metres:
    """The middle of all released paths."""
    if squares.paths_middle is None:
        return squares.middle
    return np.broadcast_to(squares.paths_middle, squares.middle.shape)


def _shapes(boxes: int) -> list[Metres]:
    """Trails of so many boxes about the origin: a block, and lines in all directions."""
    points = max(1, min(boxes, _MAX_POINTS))
    rows = max(1, math.ceil(math.sqrt(points)))
    grid = np.array([divmod(number, rows) for number in range(points)], float)
    block = (grid - grid.mean(axis=0)) * math.sqrt(boxes) / rows
    along = ((np.arange(points) + 0.5) / points - 0.5) * boxes
    turns = np.arange(_DIRECTIONS) * math.pi / _DIRECTIONS
    lines = [np.outer(along, np.array([math.cos(turn), math.sin(turn)])) for turn in turns]
    return [shape * spacing for spacing in SPACINGS_M for shape in (block, *lines)]


def _by_shape(squares: Squares) -> Metres:
    """Where trails are, on average, that would give about the published numbers."""
    if not 1 < len(squares.boxes) <= _MAX_SQUARES:
        return squares.middle
    total = float(squares.boxes.sum())
    side = squares.side.mean(axis=0)
    low = squares.west_south.min(axis=0)
    steps = (np.arange(_TRIES_PER_SIDE) + 0.5) / _TRIES_PER_SIDE
    inside_one = np.stack(np.meshgrid(steps, steps), axis=-1).reshape(-1, 2) * side
    # The middle of the trail is in one of its squares.
    tried = (squares.west_south[:, None, :] + inside_one).reshape(-1, 2)
    numbers = np.round((squares.west_south - low) / side).astype(int)
    wide, tall = numbers.max(axis=0) + 1
    index = np.full((wide, tall), len(numbers))
    index[numbers[:, 0], numbers[:, 1]] = np.arange(len(numbers))
    sums, weights = np.zeros((len(numbers) + 1, 2)), np.zeros(len(numbers) + 1)
    for shape in _shapes(round(total)):
        points = tried[:, None, :] + shape[None, :, :]
        at = np.floor((points - low) / side).astype(int)
        inside = ((at >= 0) & (at < (wide, tall))).all(axis=2)
        at = np.where(inside[:, :, None], at, 0)
        square = np.where(inside, index[at[:, :, 0], at[:, :, 1]], len(numbers))
        flat = square + (np.arange(len(tried)) * (len(numbers) + 1))[:, None]
        size = len(tried) * (len(numbers) + 1)
        counts = np.bincount(flat.ravel(), minlength=size).reshape(len(tried), -1).astype(float)
        expected = counts * total / shape.shape[0]
        published = np.append(squares.boxes, 0.0)
        misfit = ((expected - published) ** 2).sum(axis=1) / (1.0 + 0.1 * total)
        likely = np.exp(-misfit / 2)
        for axis in (0, 1):
            where = np.bincount(flat.ravel(), points[:, :, axis].ravel(), minlength=size)
            mean = where.reshape(len(tried), -1) / np.maximum(counts, 1.0)
            sums[:, axis] += (likely[:, None] * mean * (counts > 0)).sum(axis=0)
        weights += (likely[:, None] * (counts > 0)).sum(axis=0)
    known = weights[:-1] > 0
    return np.where(
        known[:, None], sums[:-1] / np.maximum(weights[:-1], 1e-300)[:, None], squares.middle
    )


ALONE = "the square alone"

LEAST_SHARE = 0.6
"""Of the error of a guess that knows the square alone; nearer is given away (our choice)."""

WAYS: Mapping[str, Callable[[Squares], Metres]] = MappingProxyType(
    {
        ALONE: _by_middle,
        "the middle of all boxes": _by_weight,
        "the fullest square": _by_neighbour,
        "the trail's shape": _by_shape,
        "the released paths": _by_paths,
    }
)
"""Name of each way of guessing -> a guess for each square."""


@dataclass(frozen=True)
class Found:
    """How close the best way of guessing comes to the boxes of a trail.

    Attributes
    ----------
    way
        Its name.
    error_m
        The median distance between a box and the guess for its square.
    alone_m
        The same of the middle of the square.
    """

    way: str
    error_m: float
    alone_m: float

    @property
    def gives_away(self) -> bool:
        """Whether what is published beside the squares leads much nearer than they do."""
        return self.error_m < LEAST_SHARE * self.alone_m


def find_boxes(
    cells: Sequence[Cell],
    boxes: Mapping[str, tuple[float, float]],
    cell_of_box: Mapping[str, str],
    paths: Sequence[Path] = (),
) -> Found:
    """What a stranger who has the published squares finds, held against the true places.

    Parameters
    ----------
    boxes
        Longitude and latitude of each box.
    cell_of_box
        The name of the square that it is published in.
    """
    errors = errors_m(cells, boxes, cell_of_box, paths)
    medians = {way: float(np.median(error)) for way, error in errors.items()}
    best = min(medians, key=lambda way: medians[way])
    return Found(best, medians[best], medians[ALONE])


def errors_m(
    cells: Sequence[Cell],
    boxes: Mapping[str, tuple[float, float]],
    cell_of_box: Mapping[str, str],
    paths: Sequence[Path] = (),
) -> dict[str, NDArray[np.float64]]:
    """For each way of guessing how far off it is for each box, in metres."""
    plane = Plane(cells[0].lon, cells[0].lat)
    squares = squares_of(cells, plane, paths)
    number = {cell.cell: at for at, cell in enumerate(cells)}
    true = plane.metres(*np.array([boxes[box] for box in cell_of_box]).T)
    at = [number[cell] for cell in cell_of_box.values()]
    return {way: np.hypot(*(guess(squares)[at] - true).T) for way, guess in WAYS.items()}
