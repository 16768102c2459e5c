"""Marks and names on a drawing, so that none is printed over another."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

HIGH = 13.0
"""Height of a line of text, and the mean width of a letter of it, in units of the drawing."""

LETTER = 7.4

REACH = (12.0, 22.0, 36.0, 54.0, 76.0, 100.0)
"""How far from its mark a name is tried, nearest first."""

PUSHES = 80
"""Times that marks too near to each other are pushed apart."""


@dataclass(frozen=True)
class Area:
    """A rectangle of the drawing."""

    left: float
    top: float
    right: float
    bottom: float

    @classmethod
    def around(cls, x: float, y: float, size: float) -> Area:
        return cls(x - size, y - size, x + size, y + size)

    def meets(self, other: Area) -> bool:
        beside = self.right <= other.left or other.right <= self.left
        return not (beside or self.bottom <= other.top or other.bottom <= self.top)

    def holds(self, at: Floats) -> int:
        """How many of some points are inside."""
        x, y = at.T
        inside = (x > self.left) & (x < self.right) & (y > self.top) & (y < self.bottom)
        return int(np.count_nonzero(inside))


def pushed_apart(at: Floats, apart: float, *, within: Area) -> Floats:
    """Marks moved as little as it takes so that none is nearer to another than `apart`."""
    moved = at.copy()
    for _ in range(PUSHES):
        gap = moved[:, None] - moved[None]
        away = np.linalg.norm(gap, axis=2)
        np.fill_diagonal(away, apart)
        near = away < apart - 0.01
        if not near.any():
            break
        # Marks at one place part sideways, by their order.
        side = np.sign(np.arange(len(at))[:, None] - np.arange(len(at))[None])[..., None]
        way = np.where(away[..., None] > 1e-6, gap, side * np.array([1.0, 0.3]))
        length = np.maximum(np.linalg.norm(way, axis=2, keepdims=True), 1e-9)
        push = np.where(near[..., None], way / length * (apart - away)[..., None] * 0.5, 0.0)
        moved += push.sum(axis=1)
        low, high = (within.left, within.top), (within.right, within.bottom)
        moved = np.clip(moved, low, high)
    return moved


class Labels:
    """Names placed one after the other, each beside its mark where nothing else is."""

    def __init__(self, within: Area, taken: Iterable[Area], lines: Floats) -> None:
        self._within, self._taken, self._lines = within, list(taken), lines

    def take(self, area: Area) -> None:
        """Keep an area free of names."""
        self._taken.append(area)

    def place(self, x: float, y: float, words: str) -> Area | None:
        """Where a name goes: the nearest free place that covers least of the lines; or None."""
        wide = LETTER * len(words)
        for reach in REACH:
            free = []
            for turn in range(8):
                east, south = math.cos(turn * math.pi / 4), math.sin(turn * math.pi / 4)
                middle_x = x + east * (reach + wide / 2.0)
                middle_y = y + south * (reach + HIGH / 2.0)
                area = Area(
                    middle_x - wide / 2.0,
                    middle_y - HIGH / 2.0,
                    middle_x + wide / 2.0,
                    middle_y + HIGH / 2.0,
                )
                if self._is_free(area):
                    free.append((area.holds(self._lines), turn, area))
            if free:
                area = min(free, key=lambda one: one[:2])[2]
                self._taken.append(area)
                return area
        return None

    def _is_free(self, area: Area) -> bool:
        within = self._within
        inside = area.left >= within.left and area.right <= within.right
        inside = inside and area.top >= within.top and area.bottom <= within.bottom
        return inside and not any(area.meets(other) for other in self._taken)
