"""A large network of paths as they are drawn: ends that stop short, crossings without a vertex."""

from __future__ import annotations

import numpy as np

from layers.walking.network.attach import Site
from layers.walking.network.lines import Line
from tests.walking.parks import line, site

ROWS = 86
SPACING_M = 60.0
BLOCKS = 5
"""A path runs on over this many crossings."""


def large_lines(seed: int) -> list[Line]:
    """Paths on a wavering grid of 86 by 86 crossings, some 20,000 edges once noded.

    Every path stops 0.5 to 2.5 m short of the crossing that it was meant to reach.
    """
    rng = np.random.default_rng(seed)
    at = np.arange(ROWS) * SPACING_M
    corner = np.stack(np.meshgrid(at, at, indexing="ij"), axis=2)
    corner += rng.normal(0.0, 4.0, corner.shape)
    lines = []
    for across in (False, True):
        for row in range(ROWS):
            vertices = corner[:, row] if across else corner[row]
            for first in range(0, ROWS - 1, BLOCKS):
                part = vertices[first : first + BLOCKS + 1]
                middles = (part[:-1] + part[1:]) / 2.0 + rng.normal(0.0, 2.0, (len(part) - 1, 2))
                xy = np.empty((2 * len(part) - 1, 2))
                xy[::2], xy[1::2] = part, middles
                for end, next_to in ((0, 1), (-1, -2)):
                    along = xy[next_to] - xy[end]
                    xy[end] += along / np.linalg.norm(along) * rng.uniform(0.5, 2.5)
                name = f"{'Row' if across else 'Ride'} {row}, part {first // BLOCKS}"
                lines.append(line(*map(tuple, xy), name=name))
    return lines


def large_sites(count: int, seed: int) -> list[Site]:
    """Boxes strewn over the grid."""
    rng = np.random.default_rng(seed)
    places = rng.uniform(0.0, (ROWS - 1) * SPACING_M, (count, 2))
    return [site(x, y, f"B{number}") for number, (x, y) in enumerate(places, start=1)]
