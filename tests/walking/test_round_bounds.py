"""What no plan can better: bounds against the best plan, and how near they come to it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given as for_all
from hypothesis import settings
from hypothesis import strategies as st

from layers.walking.round.arrays import ProblemArrays, merit
from layers.walking.round.exact import best_orders
from layers.walking.round.limits import Relaxation
from layers.walking.round.proof import _least, _steady, prove, prove_order
from layers.walking.round.result import Proof
from tests.walking.instances import make_arrays
from tests.walking.test_round_exact import by_search

pytestmark = pytest.mark.slow


def always() -> bool:
    return True


def never() -> bool:
    return False


def relaxed(given: ProblemArrays) -> Relaxation:
    return Relaxation(given, _least(_steady(given)), always)


@for_all(
    st.integers(0, 10_000),
    st.integers(3, 8),
    st.integers(1, 3),
    st.floats(20.0, 120.0),
    st.booleans(),
)
@settings(max_examples=40)
def test_no_plan_sees_more_urgency_than_the_bound_says(
    seed: int, stops: int, walkers: int, budget: float, closed: bool
) -> None:
    given = make_arrays(stops, seed, walkers=walkers, budget=budget, closed=closed)
    best = -merit(given, best_orders(given))[0]
    assert relaxed(given).most_urgency() >= best - 1e-6


@for_all(st.integers(0, 10_000), st.integers(3, 8), st.integers(2, 3), st.booleans())
@settings(max_examples=40)
def test_no_longest_walk_is_shorter_than_the_bound_says(
    seed: int, stops: int, walkers: int, closed: bool
) -> None:
    given = make_arrays(stops, seed, walkers=walkers, closed=closed)
    best = merit(given, best_orders(given))[1]
    assert relaxed(given).least_longest(best) <= best + 1e-6
    assert relaxed(given).least_longest(best * 1.3) <= best + 1e-6


@pytest.mark.parametrize(
    ("kind", "gap"),
    [({"walkers": 2}, 0.10), ({"walkers": 3, "closed": True}, 0.25), ({"budget": 90.0}, 0.10)],
)
@pytest.mark.parametrize("seed", range(2))
def test_a_bound_beyond_twelve_stops_comes_near_the_plan(
    kind: dict[str, Any], gap: float, seed: int
) -> None:
    given = make_arrays(25, 40 + seed, **kind)
    proof = prove(given, by_search(given, 0), go_on=always)
    assert 0.0 <= proof.gap <= gap


@pytest.mark.parametrize("kind", [{}, {"walkers": 2}, {"budget": 90.0}])
def test_a_bound_that_is_broken_off_is_still_a_bound(kind: dict[str, Any]) -> None:
    given = make_arrays(20, 3, **kind)
    plan = by_search(given, 0)
    whole, broken = (prove(given, plan, go_on=go_on) for go_on in (always, never))
    worse = -1.0 if whole.measure == "urgency" else 1.0
    assert worse * broken.bound <= worse * whole.bound + 1e-9
    assert worse * broken.bound <= worse * broken.value + 1e-9


@pytest.mark.parametrize("stops", [9, 20])
def test_an_order_that_was_given_is_held_against_all_orders(stops: int) -> None:
    given = make_arrays(stops, 5, uneven=0.0)
    (best,) = by_search(given, 0)
    as_given = tuple(range(1, stops + 1))
    assert prove_order(given, best, go_on=always).optimal
    proof = prove_order(given, as_given, go_on=always)
    assert (proof.optimal, proof.value) == (False, given.finish(as_given))
    assert proof.bound == pytest.approx(given.finish(best), abs=0.01)


def test_more_stops_than_the_relaxation_takes_still_have_a_bound() -> None:
    for given in (make_arrays(115, 2, walkers=3), make_arrays(115, 2, budget=200.0)):
        proof = prove(given, by_search(given, 0), go_on=always)
        assert 0.0 < proof.gap < 0.6


@pytest.mark.parametrize(
    ("bound", "said"),
    [
        (100.0, "optimal"),
        (99.99, "at least 100.0 minutes; gap below 0.1 %"),
        (95.0, "at least 95.0 minutes; gap at most 5.3 %"),
    ],
)
def test_a_proof_says_optimal_or_how_far_off_at_most(bound: float, said: str) -> None:
    assert str(Proof("minutes", 100.0, bound, optimal=bound == 100.0)) == said


def test_steady_minutes_leave_every_walk_as_long_as_it_was() -> None:
    given = make_arrays(6, 8)
    steady = _steady(given)
    for order in ([1, 2, 3, 4, 5, 6], [6, 2, 4], [3]):
        at = np.array([0, *order, given.end])
        assert steady[at[:-1], at[1:]].sum() == pytest.approx(given.minutes[at[:-1], at[1:]].sum())
