"""Parts of a drawing as SVG: looks are classes, so one drawing serves screen and paper.

Every text is escaped.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from markupsafe import Markup
from numpy.typing import NDArray


def points(at: NDArray[np.float64]) -> str:
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in at.tolist())


def line(kind: str, *ends: float) -> Markup:
    return Markup('<line class="{}" x1="{:.1f}" y1="{:.1f}" x2="{:.1f}" y2="{:.1f}"/>').format(
        kind, *ends
    )


def text(kind: str, x: float, y: float, words: str, *, anchor: str) -> Markup:
    return Markup('<text class="{}" x="{:.1f}" y="{:.1f}" text-anchor="{}">{}</text>').format(
        kind, x, y, anchor, words
    )


def drawing(kind: str, wide: float, high: float, wording: str, parts: Iterable[Markup]) -> Markup:
    return Markup(
        '<svg class="{}" viewBox="0 0 {:g} {:g}" role="img" aria-label="{}">{}</svg>'
    ).format(kind, wide, high, wording, Markup("\n").join(parts))
