"""Rounds with hours, a time budget or several walkers, by PyVRP's iterated local search.

Where time is too short for all stops, which of them to visit is then searched further; see
`choosing`.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable, Iterable, Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layers.walking.round.arrays import Orders, ProblemArrays, merit
from layers.walking.round.choosing import STEPS, chosen
from layers.walking.round.clock import DAY_MINUTES

Ints = NDArray[np.int64]

UNITS = 600
"""Whole units in a minute: the solver counts tenths of a second."""

LEAST_VISIT_WALKS = 4.0
"""The least urgent visit is worth this many of the longest walk allowed. A prize of a hundred
times as much hides the walking from the search, a small one makes it skip boxes to save steps:
on 20 instances of 14 to 80 stops 1 to 10 walks did best, 200 to 1,000 lost 7 % of the urgency."""

CHOOSING_SHARE = 0.6
"""Share of the steps spent on which stops to visit, before the longest walk is shortened."""

NO_WAY = 1e6
"""Minutes that stand for a way that there is not."""

TWO_STARTS = 60
"""From this many stops, choosing is begun from the greedy plan as well as from the solver's: rich
stops far off are then found by one of the two."""

HALVINGS = 9
"""How often the allowed length of the longest walk is halved; to within 0.2 % of it."""


def improved(
    arrays: ProblemArrays, first: Orders, *, steps: int, seed: int, go_on: Callable[[], bool]
) -> Iterator[Orders]:
    """Better and better plans, at first the one given.

    Parameters
    ----------
    first
        A plan to start from, its walks within the budget.
    steps
        Iterations of the solver in all.
    go_on
        Called before each stage of the search, which ends where it says no.
    """
    best = first
    yield best
    choosing = int(steps * CHOOSING_SHARE) if arrays.walkers > 1 else steps
    if arrays.may_leave_out or arrays.walkers == 1:
        found = _solve(arrays, best, limit=arrays.budget, steps=choosing, seed=seed)
        best = _better(arrays, best, found)
        yield best
        if _crowded(arrays, best):
            for start in [first, best] if arrays.stops >= TWO_STARTS else [best]:
                walks = chosen(arrays, start, steps=STEPS, seed=seed, go_on=go_on)
                best = _better(arrays, best, _ordered(walks))
                yield best
    if arrays.walkers == 1:
        return
    # Where not all stops fit, the walks fill the time and there is little to even out.
    whole = sum(map(len, best)) == arrays.stops
    halvings = HALVINGS if whole else 2
    each = max(steps // (HALVINGS + 1), 1)
    low, longest = _least(arrays, best), merit(arrays, best)[1]
    for number in range(halvings + 1):
        if not go_on():
            return
        # The last stage holds the longest walk and shortens the others.
        limit = longest if number == halvings else (low + longest) / 2.0
        found = _solve(arrays, best, limit=limit, steps=each, seed=seed + 1 + number)
        bettered = _better(arrays, best, found)
        if bettered is best:
            low = limit
        best, longest = bettered, merit(arrays, bettered)[1]
        low = min(low, longest)
        yield best


def _crowded(arrays: ProblemArrays, orders: Orders) -> bool:
    """Whether stops are left out for time alone."""
    visited = sum(map(len, orders))
    return visited < arrays.stops and not (arrays.timed or arrays.broken)


def _ordered(walks: Iterable[tuple[int, ...]]) -> Orders:
    """The walks, the one with most stops first."""
    return tuple(sorted(walks, key=lambda walk: (-len(walk), walk)))


def _better(arrays: ProblemArrays, plan: Orders, other: Orders | None) -> Orders:
    """The plan, unless the other is better."""
    if other is None or not merit(arrays, other) < merit(arrays, plan):
        return plan
    return other


def _least(arrays: ProblemArrays, orders: Orders) -> float:
    """What the longest walk cannot be shorter than: there and back to the farthest stop."""
    return max((arrays.finish([stop]) for order in orders for stop in order), default=0.0)


def _solve(
    arrays: ProblemArrays, start: Orders, *, limit: float, steps: int, seed: int
) -> Orders | None:
    """The solver's plan whose walks are no longer than `limit`, None if it finds none."""
    import pyvrp  # noqa: PLC0415  takes a fifth of a second, and most rounds do without
    from pyvrp.stop import MaxIterations  # noqa: PLC0415

    data = _data(pyvrp, arrays, limit)
    routes = [[stop - 1 for stop in order] for order in start if order]
    with warnings.catch_warnings():
        # A limit too tight to keep is part of the search, not a fault of the data.
        warnings.simplefilter("ignore", pyvrp.exceptions.PenaltyBoundWarning)
        result = pyvrp.solve(
            data,
            stop=MaxIterations(steps),
            seed=seed % 2**32,
            collect_stats=False,
            initial_solution=pyvrp.Solution(data, routes),
        )
    if not result.is_feasible():
        return None
    walks = [
        tuple(activity.idx + 1 for activity in route.schedule() if activity.is_client())
        for route in result.best.routes()
    ]
    walks += [()] * (arrays.walkers - len(walks))
    found = _ordered(walks)
    return found if np.isfinite(merit(arrays, found)[1]) else None


def _data(pyvrp: Any, arrays: ProblemArrays, limit: float) -> Any:
    walking = np.ceil(np.minimum(arrays.minutes, NO_WAY) * UNITS).astype(np.int64)
    np.fill_diagonal(walking, 0)
    places = len(walking)
    everything = not arrays.may_leave_out
    # The solver knows no pairs without a way, but walks that take too long.
    limit = min(limit, NO_WAY - 1.0) if arrays.broken else limit
    # No walk is worth more than a day; the solver's penalties hold no prize beyond that either.
    longest = min(arrays.budget, DAY_MINUTES)
    minutes = arrays.urgency / arrays.urgency[1:-1].min() * LEAST_VISIT_WALKS * longest
    prize = np.round(np.minimum(minutes, NO_WAY) * UNITS).astype(np.int64)

    def clock(minutes: float) -> int | None:
        return int(np.floor(max(minutes, 0.0) * UNITS)) if np.isfinite(minutes) else None

    clients = []
    for stop in range(1, arrays.stops + 1):
        hours: dict[str, int] = {}
        opens, closes = clock(arrays.opens[stop]), clock(arrays.closes[stop])
        if opens is not None:
            hours["tw_early"] = opens
        if closes is not None:
            hours["tw_late"] = closes
        client = pyvrp.Client(
            stop,
            service_duration=int(np.ceil(arrays.service[stop] * UNITS)),
            prize=0 if everything else int(prize[stop]),
            required=everything,
            **hours,
        )
        clients.append(client)
    shift = {} if np.isinf(limit) else {"shift_duration": int(np.floor(limit * UNITS))}
    walkers = pyvrp.VehicleType(
        num_available=arrays.walkers,
        start_depot=0,
        end_depot=1,
        unit_distance_cost=0,
        unit_duration_cost=1,
        start_late=0,
        **shift,
    )
    return pyvrp.ProblemData(
        [pyvrp.Location(0, 0)] * places,
        clients,
        [pyvrp.Depot(0), pyvrp.Depot(places - 1)],
        [walkers],
        [np.zeros_like(walking)],
        [walking],
    )
