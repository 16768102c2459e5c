"""Every kind of round against trying all orders, and the two solvers against each other."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from layers.walking.round.arrays import SLACK, Orders, ProblemArrays, merit
from layers.walking.round.exact import best_orders
from layers.walking.round.proof import prove
from layers.walking.round.shared import improved
from layers.walking.round.single import orders
from layers.walking.round.solve import SHARED_STEPS, _filled, _shared_out
from tests.walking.all_orders import best_of_all, quickest_of_all
from tests.walking.instances import make_arrays

pytestmark = pytest.mark.slow

KINDS = {
    "closed": {"closed": True},
    "open": {},
    "symmetric": {"closed": True, "uneven": 0.0},
    "budget": {"budget": 75.0},
    "hours": {"hours": True},
    "two walkers": {"walkers": 2},
    "two walkers with a budget": {"walkers": 2, "budget": 45.0},
    "three walkers": {"walkers": 3, "closed": True},
    "hours and a budget": {"hours": True, "budget": 80.0},
}


def by_trying_all(given: ProblemArrays) -> tuple[float, float, float]:
    """Merit of the best plan among all shares and all orders."""
    quickest: dict[tuple[int, ...], tuple[int, ...]] = {}
    best = (math.inf, math.inf, math.inf)
    for share in itertools.product(range(given.walkers + 1), repeat=given.stops):
        plan = []
        for walker in range(given.walkers):
            stops = tuple(i + 1 for i, who in enumerate(share) if who == walker)
            if stops not in quickest:
                quickest[stops] = min(itertools.permutations(stops), key=given.finish)
            plan.append(quickest[stops])
        if max(given.finish(walk) for walk in plan) <= min(given.budget + SLACK, 1e9):
            best = min(best, merit(given, tuple(plan)))
    return best


def by_search(given: ProblemArrays, seed: int) -> Orders:
    """The plan of the solvers that larger tasks are given to."""
    if given.walkers == 1 and not given.timed:
        *_, order = orders(given.minutes, steps=3000, seed=seed)
        if math.isinf(given.budget):
            return (order,)
        first = _filled(given)
    elif given.timed or math.isfinite(given.budget):
        first = ((),) * given.walkers if given.timed else _filled(given)
    else:
        first = _shared_out(given, tuple(range(1, given.end)))
    *_, plan = improved(given, first, steps=SHARED_STEPS, seed=seed, go_on=lambda: True)
    return plan


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("seed", range(3))
def test_the_exact_order_is_that_of_trying_all(kind: str, seed: int) -> None:
    given = make_arrays(5 if "walkers" in kind else 7, seed, **KINDS[kind])  # type: ignore[arg-type]
    assert merit(given, best_orders(given)) == pytest.approx(by_trying_all(given), abs=2e-6)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("seed", range(4))
def test_the_search_for_larger_rounds_finds_the_best_of_small_ones(kind: str, seed: int) -> None:
    given = make_arrays(7 + seed % 3, 100 + seed, **KINDS[kind])  # type: ignore[arg-type]
    found, best = merit(given, by_search(given, seed)), merit(given, best_orders(given))
    assert found[0] == best[0]
    assert found == pytest.approx(best, abs=0.01)


@pytest.mark.parametrize("stops", [10, pytest.param(12, marks=pytest.mark.long)])
@pytest.mark.parametrize("kind", KINDS)
def test_stops_are_in_the_best_of_all_their_orders(kind: str, stops: int) -> None:
    given = make_arrays(stops, 300, **KINDS[kind])  # type: ignore[arg-type]
    best = best_of_all(given, quickest_of_all(given))
    assert merit(given, best_orders(given)) == pytest.approx(best, abs=2e-6)


@pytest.mark.parametrize("kind", ["closed", "open", "symmetric"])
@pytest.mark.parametrize("seed", range(3))
def test_twelve_stops_are_still_exact(kind: str, seed: int) -> None:
    given = make_arrays(12, 200 + seed, **KINDS[kind])  # type: ignore[arg-type]
    found, best = merit(given, by_search(given, seed)), merit(given, best_orders(given))
    assert found == pytest.approx(best, abs=1e-5)


def test_stops_too_many_for_the_hours_are_left_out_by_urgency() -> None:
    given = make_arrays(4, 1)
    closes = given.closes.copy()
    closes[1:3] = given.minutes[0, 1:3] + 0.5  # both are shut before the other one is done
    urgency = np.array([0.0, 1.0, 5.0, 1.0, 1.0, 0.0])
    shut = ProblemArrays(given.minutes, given.service, urgency, given.opens, closes, math.inf, 1)
    (walk,) = best_orders(shut)
    assert walk[0] == 2
    assert 1 not in walk


def test_nobody_is_sent_out_when_nothing_fits() -> None:
    assert best_orders(make_arrays(5, 2, budget=1.0)) == ((),)
    assert _filled(make_arrays(5, 2, budget=1.0)) == ((),)


@pytest.mark.parametrize(
    ("stops", "walkers", "budget", "seed"), [(40, 3, 60.0, 3), (50, 2, 90.0, 5), (60, 2, 110.0, 4)]
)
def test_a_search_with_too_little_time_betters_the_greedy_plan(
    stops: int, walkers: int, budget: float, seed: int
) -> None:
    given = make_arrays(stops, seed, closed=True, walkers=walkers, budget=budget)
    greedy, found = (merit(given, plan)[0] for plan in (_filled(given), by_search(given, 0)))
    assert found <= 1.04 * greedy  # both are the urgency missed, below 0


@pytest.mark.parametrize("kind", ["closed", "open", "symmetric", "three walkers", "hours"])
def test_no_bound_is_above_the_round(kind: str) -> None:
    given = make_arrays(16, 7, **KINDS[kind])  # type: ignore[arg-type]
    plan = by_search(given, 0)
    proof = prove(given, plan, go_on=lambda: True)
    assert proof.bound <= proof.value + 1e-9
    assert proof.gap < 0.35


def test_a_bound_on_urgency_is_not_below_what_is_done() -> None:
    given = make_arrays(16, 7, budget=75.0)
    proof = prove(given, by_search(given, 0), go_on=lambda: True)
    assert proof.measure == "urgency"
    assert proof.bound >= proof.value


@pytest.mark.parametrize("kind", ["closed", "open", "symmetric"])
def test_the_bound_of_an_uneven_round_is_near_it(kind: str) -> None:
    given = make_arrays(30, 9, **KINDS[kind])  # type: ignore[arg-type]
    *_, order = orders(given.minutes, steps=18_000, seed=0)
    assert prove(given, (order,), go_on=lambda: True).gap < 0.05


@pytest.mark.parametrize("kind", ["symmetric", "open", "budget", "two walkers"])
def test_a_seed_gives_the_same_plan_again(kind: str) -> None:
    given = make_arrays(14, 11, **KINDS[kind])  # type: ignore[arg-type]
    assert by_search(given, 5) == by_search(given, 5)
