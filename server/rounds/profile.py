"""The height profile of a walk, which needs no script."""

from __future__ import annotations

import math

import numpy as np
from markupsafe import Markup
from numpy.typing import NDArray

from layers.trail.measures import M_PER_FOOT, M_PER_MILE, format_distance
from layers.walking.round import Walk
from layers.walking.round.legs import Units, profile
from server.rounds import svg

Floats = NDArray[np.float64]

WIDE, HIGH = 760.0, 200.0
LEFT, RIGHT, TOP, BOTTOM = 64.0, 14.0, 34.0, 34.0

LEAST_RISE_M = 10.0
"""A profile shows at least this much height, so that level ground looks level."""

MAX_POINTS = 400
NUMBER_APART = 20.0


def profile_svg(walk: Walk, *, units: Units) -> Markup:
    """Heights along a walk with its stops; empty where no height is known."""
    along, height, stops_m = _profile(walk)
    known = np.isfinite(height)
    if not known.any():
        return Markup("")
    along, height = along[known], height[known]
    unit_m, unit = (M_PER_FOOT, "ft") if units == "us" else (1.0, "m")
    far_m, far = (M_PER_MILE, "mi") if units == "us" else (1000.0, "km")
    total_m = max(float(stops_m[-1]), 1.0)
    middle = (height.min() + height.max()) / 2.0
    low = min(height.min(), middle - LEAST_RISE_M / 2.0)
    high = max(height.max(), middle + LEAST_RISE_M / 2.0)
    wide = WIDE - LEFT - RIGHT
    high_px = HIGH - TOP - BOTTOM

    def x(at_m: float) -> float:
        return LEFT + at_m / total_m * wide

    def y(height_m: float) -> float:
        return float(TOP + (high - height_m) / (high - low) * high_px)

    floor = HIGH - BOTTOM
    thin = np.unique(np.linspace(0, len(along) - 1, min(len(along), MAX_POINTS)).astype(int))
    line = " ".join(f"{x(along[i]):.1f},{y(height[i]):.1f}" for i in thin)
    parts = []
    for tick in _ticks(low / unit_m, high / unit_m, most=4):
        at = y(tick * unit_m)
        parts.append(svg.line("grid", LEFT, at, WIDE - RIGHT, at))
        parts.append(svg.text("tick", LEFT - 8, at + 5, f"{tick:g} {unit}", anchor="end"))
    for tick in _ticks(0.0, total_m / far_m, most=7):
        parts.append(
            svg.text("tick", x(tick * far_m), floor + 22, f"{tick:g} {far}", anchor="middle")
        )
    area = f"{x(along[0]):.1f},{floor} {line} {x(along[-1]):.1f},{floor}"
    parts.append(Markup('<polygon class="ground" points="{}"/>').format(area))
    parts.append(Markup('<polyline class="height" points="{}"/>').format(line))
    last = -NUMBER_APART
    for number, at_m in enumerate(stops_m[:-1], start=1):
        at = x(at_m)
        parts.append(svg.line("stop", at, TOP - 6, at, floor))
        if at - last >= NUMBER_APART:
            parts.append(svg.text("number", at, TOP - 12, str(number), anchor="middle"))
            last = at
    text = (
        f"Height along the walk of {format_distance(total_m, units)}: "
        f"lowest {height.min() / unit_m:.0f} {unit}, highest {height.max() / unit_m:.0f} {unit}."
    )
    return svg.drawing("profile", WIDE, HIGH, text, parts)


def _profile(walk: Walk) -> tuple[Floats, Floats, list[float]]:
    """Metres along a walk, heights there, and metres at which each leg ends."""
    along, heights, ends = [], [], []
    total = 0.0
    for leg in walk.legs:
        here, height = profile(leg)
        along.append(total + here)
        heights.append(height)
        total += float(here[-1])
        ends.append(total)
    return np.concatenate(along), np.concatenate(heights), ends


def _ticks(low: float, high: float, *, most: int) -> list[float]:
    """Round figures within a span: steps of 1, 2 or 5 times a power of ten."""
    power = 10.0 ** math.floor(math.log10((high - low) / most))
    step = next(power * k for k in (1, 2, 5, 10) if (high - low) / (power * k) <= most)
    return [round(n * step, 10) for n in range(math.ceil(low / step), math.floor(high / step) + 1)]
