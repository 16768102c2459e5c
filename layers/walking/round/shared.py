"""Rounds with hours, a time budget or several walkers, by PyVRP's iterated local search."""

from __future__ import annotations

import warnings
from collections.abc import Callable, Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layers.walking.round.arrays import Orders, ProblemArrays, merit

Ints = NDArray[np.int64]

UNITS = 600
"""Whole units in a minute: the solver counts tenths of a second."""

URGENCY_STEPS = 100
"""Urgencies are told apart to a hundredth."""

NO_WAY = 1e6
"""Minutes that stand for a way that there is not."""

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
    stages = HALVINGS + 2 if arrays.walkers > 1 else 1
    each = max(steps // stages, 1)
    limit, low = arrays.budget, _least(arrays, first)
    for number in range(stages):
        if not go_on():
            return
        found = _solve(arrays, best, limit=limit, steps=each, seed=seed + number)
        better = found is not None and merit(arrays, found) < merit(arrays, best)
        if found is not None and better:
            best = found
        elif number > 0:
            low = limit
        longest = merit(arrays, best)[1]
        # The last stage holds the longest walk and shortens the others.
        limit = longest if number == stages - 2 else (min(low, longest) + longest) / 2.0
        yield best


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
    found = tuple(sorted(walks, key=lambda walk: (-len(walk), walk)))
    return found if np.isfinite(merit(arrays, found)[1]) else None


def _data(pyvrp: Any, arrays: ProblemArrays, limit: float) -> Any:
    walking = np.ceil(np.minimum(arrays.minutes, NO_WAY) * UNITS).astype(np.int64)
    np.fill_diagonal(walking, 0)
    places = len(walking)
    everything = bool(np.isinf(arrays.budget)) and not (arrays.timed or arrays.broken)
    # The solver knows no pairs without a way, but walks that take too long.
    limit = min(limit, NO_WAY - 1.0) if arrays.broken else limit
    # A minute more or less never outweighs the smallest difference in urgency.
    horizon = int(walking[:, : places - 1].max(axis=0).sum() + arrays.service.sum() * UNITS) + 1
    prize = np.round(arrays.urgency * URGENCY_STEPS).astype(np.int64) * min(horizon, 10**7)

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
