"""Cuts by halves: no tour breaks one, and the bound that they give is below every tour."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest
from numpy.typing import NDArray

from layers.walking.round.arrays import ProblemArrays
from layers.walking.round.bound import _Relaxation, tour_bound
from layers.walking.round.exact import best_orders
from layers.walking.round.halves import half_cuts
from tests.walking.all_orders import quickest_of_all

Ints = NDArray[np.int64]


def tours_of(size: int) -> Ints:
    return np.array([(0, *order) for order in permutations(range(1, size))])


def drawn(size: int, seed: int, *, uneven: bool) -> Ints:
    """Two triangles joined by three paths, where half of each triangle's sides is cheapest."""
    rng = np.random.default_rng(seed)
    cost = rng.integers(60, 90, (size, size))
    for path in range(3):
        places = [path, *range(6 + path, size, 3), 3 + path]
        cost[places[:-1], places[1:]] = rng.integers(5, 9)
    for one, other in ((0, 1), (1, 2), (0, 2), (3, 4), (4, 5), (3, 5)):
        cost[one, other] = rng.integers(20, 24)
    cost = np.triu(cost) + np.triu(cost, 1).T
    if uneven:
        cost += rng.integers(0, 5, cost.shape)
    np.fill_diagonal(cost, 0)
    order = rng.permutation(size)
    return cost[np.ix_(order, order)]


def test_an_odd_ring_of_halves_is_cut_and_no_tour_breaks_the_cut() -> None:
    # Two triangles of halves and three whole edges between them: the smallest comb.
    u, v = np.triu_indices(6, k=1)
    whole = {(0, 3), (1, 4), (2, 5)}
    pairs = list(zip(u.tolist(), v.tolist(), strict=True))
    values = np.array(
        [1.0 if p in whole else 0.5 if (p[0] < 3) == (p[1] < 3) else 0.0 for p in pairs]
    )
    each = np.array([(u == place) | (v == place) for place in range(6)], np.int8)
    cuts, limits = half_cuts(each, np.full(6, 2), values)
    assert (cuts @ values > limits + 0.4).any()
    tours = tours_of(6)
    ways = np.sort(np.stack([tours, np.roll(tours, -1, axis=1)]), axis=0)
    uses = (ways[0][..., None] == u) & (ways[1][..., None] == v)
    assert (uses.sum(axis=1) @ cuts.T <= limits).all()


@pytest.mark.parametrize("uneven", [False, True])
def test_no_tour_breaks_what_the_bound_takes_for_known(uneven: bool) -> None:
    tours, cut = tours_of(8), 0
    for seed in range(20):
        cost = drawn(8, seed, uneven=uneven)
        length = cost[tours, np.roll(tours, -1, axis=1)].sum(axis=1)
        # A tour that is not the shortest leaves something to prove.
        relaxed = _Relaxation(cost, tours[length.argsort()[len(length) // 4]], None, lambda: True)
        first, second = relaxed._relaxed(), relaxed._relaxed(halving=True)
        assert max(first, second) <= length.min()
        ends = [tours, np.roll(tours, -1, axis=1)]
        leave, enter = ends if uneven else np.sort(ends, axis=0)
        uses = sum(
            (one[:, None] == relaxed.u) & (other[:, None] == relaxed.v)
            for one, other in zip(leave.T, enter.T, strict=True)
        )
        uses = np.array(uses, np.int64)
        assert (uses.sum(axis=1) == 8).all()
        assert (uses @ relaxed.known.halves.T.astype(np.int64) <= relaxed.known.limits).all()
        assert not uses[length < relaxed.best][:, ~relaxed.open].any()
        cut += len(relaxed.known.limits)
    assert cut > 0


@pytest.mark.slow
@pytest.mark.parametrize("uneven", [False, True])
def test_bounds_of_eleven_places_are_at_most_the_shortest_of_all_orders(uneven: bool) -> None:
    raised = 0
    for seed in range(6):
        cost = drawn(11, seed, uneven=uneven)
        minutes = np.block([[cost, cost[:, :1]], [cost[:1], np.zeros((1, 1), np.int64)]])
        none, one, ever = np.zeros(12), np.ones(12), np.full(12, np.inf)
        arrays = ProblemArrays(minutes.astype(np.float64), none, one, -ever, ever, np.inf, 1)
        shortest = round(quickest_of_all(arrays)[-1])
        relaxed = _Relaxation(cost, np.arange(11), None, lambda: True)
        first, second = relaxed._relaxed(), relaxed._relaxed(halving=True)
        assert (
            max(first, second)
            <= shortest
            == tour_bound(cost, np.array((0, *best_orders(arrays)[0])))
        )
        raised += second > first
    assert raised > 0
