"""The top of a smooth function between bounds, by damped Newton steps."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Evaluate = Callable[[Floats], tuple[float, Floats, Floats]]
"""Value, gradient and matrix of second derivatives; the value may be minus infinity."""

_MAX_STEPS = 200
_MAX_HALVINGS = 40
SETTLED = 1e-12
# Values closer than this share are equal, but for rounding.
_ROUNDING = 1e-14


def climb(
    evaluate: Evaluate, start: Floats, low: Floats, high: Floats, *, settled: float = SETTLED
) -> tuple[Floats, float]:
    """Where a function is highest, and how high. `low` and `high` may be infinite.

    Steps end with one that moves no parameter by more than the share `settled`. A parameter with a
    finite lower bound above 0 is a rate: one step changes it tenfold at most.
    """
    at = np.clip(start, low, high)
    value, slope, curve = evaluate(at)
    rate = np.isfinite(low) & (low > 0)
    for _ in range(_MAX_STEPS):
        held = ((at <= low) & (slope <= 0)) | ((at >= high) & (slope >= 0))
        free = np.flatnonzero(~held)
        if len(free) == 0:
            break
        step = np.zeros_like(at)
        step[free] = _uphill(slope[free], curve[np.ix_(free, free)])
        floor = np.where(rate, np.maximum(low, at / 10), low)
        ceiling = np.where(rate, np.minimum(high, at * 10), high)
        for _ in range(_MAX_HALVINGS):
            there = np.clip(at + step, floor, ceiling)
            found = evaluate(there)
            if found[0] >= value - _ROUNDING * (1 + abs(value)):
                break
            step /= 2
        else:
            break
        moved = np.max(np.abs(there - at) / (np.abs(at) + 1e-8))
        at, (value, slope, curve) = there, found
        if moved < settled:
            break
    return at, value


def _uphill(slope: Floats, curve: Floats) -> Floats:
    """Newton's step, turned uphill where the function is not concave."""
    values, vectors = np.linalg.eigh(-curve)
    largest = max(float(np.abs(values).max()), 1.0)
    bent = np.maximum(np.abs(values), 1e-14 * largest)
    step: Floats = vectors @ ((vectors.T @ slope) / bent)
    return step
