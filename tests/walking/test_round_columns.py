"""What several walkers can visit at most, against the best plan; and plans near that bound."""

from __future__ import annotations

import math
import time
from functools import partial
from statistics import median

import pytest
from hypothesis import given as for_all
from hypothesis import settings
from hypothesis import strategies as st

from layers.walking.round.arrays import Orders, ProblemArrays, merit
from layers.walking.round.columns import most_urgency
from layers.walking.round.exact import best_orders
from layers.walking.round.proof import prove
from layers.walking.round.solve import _filled, solutions
from tests.walking.instances import TWENTY, make_arrays, one_of_twenty
from tests.walking.routing_library import routing_library_plan

pytestmark = pytest.mark.slow


def always() -> bool:
    return True


def never() -> bool:
    return False


def found_by_search(given: ProblemArrays) -> Orders:
    return min(solutions(given, go_on=always), key=partial(merit, given))


@for_all(st.integers(0, 10_000), st.integers(1, 8), st.integers(1, 3), st.floats(20.0, 120.0))
@settings(max_examples=30)
def test_no_plan_sees_more_urgency_than_the_columns_say(
    seed: int, stops: int, walkers: int, budget: float
) -> None:
    given = make_arrays(stops, seed, walkers=walkers, budget=budget)
    best = -merit(given, best_orders(given))[0]
    for go_on in (always, never):
        assert most_urgency(given, _filled(given), go_on) >= best - 1e-6


def test_places_at_no_distance_and_without_minutes_still_have_a_bound() -> None:
    given = make_arrays(14, 3, walkers=2, budget=50.0)
    given.minutes[1:8, 1:8] = 0.0
    given.service[:] = 0.0
    assert most_urgency(given, _filled(given), always) >= -merit(given, _filled(given))[0]


@pytest.mark.parametrize("number", [1, pytest.param(4, marks=pytest.mark.long)])
def test_the_bound_comes_near_the_plan(number: int) -> None:
    given = one_of_twenty(number)
    proof = prove(given, found_by_search(given), go_on=always)
    assert proof.value <= proof.bound <= 1.02 * proof.value


def test_a_plan_of_forty_stops_is_proven_best() -> None:
    given = one_of_twenty(1)
    assert prove(given, found_by_search(given), go_on=always).optimal


@pytest.mark.long
def test_plans_are_as_good_as_those_of_a_routing_library_given_five_times_as_long() -> None:
    worse, gaps = [], []
    for number in range(len(TWENTY)):
        given = one_of_twenty(number)
        begun = time.process_time()
        ours = found_by_search(given)
        took_s = time.process_time() - begun
        library = routing_library_plan(given, seconds=5.0 * took_s)
        # Seldom a plan of the library's takes longer than it may.
        theirs = merit(given, tuple(walk if given.fits(walk) else () for walk in library))
        proof = prove(given, ours, go_on=always)
        gaps.append(abs(proof.bound / proof.value - 1.0))
        limited = math.isfinite(given.budget)
        # Urgency missed where minutes are limited, else minutes of the longest walk.
        mine, other = (one[0] if limited else one[1] for one in (merit(given, ours), theirs))
        assert mine <= other + 0.05 * abs(other)
        worse += [number] if mine > other + 1e-6 else []
    assert len(worse) <= 1
    assert median(gaps) <= 0.08
