"""Made problems of rounds, as numbers alone."""

from __future__ import annotations

import math

import numpy as np

from layers.walking.round.arrays import ProblemArrays

TWENTY = tuple(
    (stops, walkers, budget, seed)
    for seed in range(4)
    for stops, walkers, budget in (
        (30, 1, 120.0),
        (40, 2, 70.0),
        (50, 3, math.inf),
        (60, 1, 200.0),
        (80, 4, 80.0),
    )
)
"""Stops, walkers, minutes of each and seed: half of the stops fit where the minutes are limited.
Stops of the last two seeds are in clusters."""


def one_of_twenty(number: int) -> ProblemArrays:
    """One of the problems on which the search is held against a routing library."""
    stops, walkers, budget, seed = TWENTY[number]
    clusters = 7 if seed >= 2 else 0
    return make_arrays(stops, seed, closed=True, walkers=walkers, budget=budget, clusters=clusters)


def make_arrays(
    stops: int,
    seed: int,
    *,
    closed: bool = False,
    uneven: float = 0.3,
    budget: float = math.inf,
    walkers: int = 1,
    hours: bool = False,
    clusters: int = 0,
) -> ProblemArrays:
    """Stops strewn over a square; uphill not equal to downhill where `uneven` is above 0.

    With `clusters`, stops are in so many groups, the first of them rich and far off.
    """
    rng = np.random.default_rng(seed)
    size = stops + 2
    xy = rng.uniform(0.0, 40.0, (size, 2))
    group = rng.integers(0, clusters, size) if clusters else np.ones(size, np.int64)
    if clusters:
        centre = rng.uniform(0.0, 40.0, (clusters, 2))
        centre[0] = (60.0, 20.0)
        xy[1:-1] = (centre[group] + rng.normal(0.0, 3.0, (size, 2)))[1:-1]
        xy[0] = (20.0, 20.0)
    if closed:
        xy[-1] = xy[0]
    height = rng.uniform(0.0, 10.0 * uneven, size)
    height[-1] = height[0] if closed else height[-1]
    minutes = np.linalg.norm(xy[:, None] - xy[None], axis=2)
    minutes += np.maximum(height[None, :] - height[:, None], 0.0)
    opens, closes = np.full(size, -math.inf), np.full(size, math.inf)
    if hours:
        some = rng.choice(np.arange(1, stops + 1), max(stops // 3, 1), replace=False)
        opens[some[::2]] = rng.uniform(20.0, 90.0, len(some[::2]))
        closes[some[1::2]] = rng.uniform(40.0, 120.0, len(some[1::2]))
    inner = rng.uniform(1.0, 6.0, stops), rng.integers(1, 6, stops).astype(float)
    service, urgency = (np.r_[0.0, values, 0.0] for values in inner)
    urgency[group == 0] *= 2.0
    return ProblemArrays(minutes, service, urgency, opens, closes, budget, walkers)
