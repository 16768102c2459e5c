"""The plain ways to order stops that our rounds are held against."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]


def plain_tour(cost: Ints) -> Ints:
    """Nearest first, then 2-opt: stretches are turned round until none gains by it."""
    size = len(cost)
    left = np.ones(size, bool)
    tour = np.zeros(size, np.int64)
    for step in range(1, size):
        left[tour[step - 1]] = False
        tour[step] = int(np.where(left, cost[tour[step - 1]], np.iinfo(np.int64).max).argmin())
    better = True
    while better:
        better = False
        for first in range(1, size - 1):
            last = np.arange(first + 1, size)
            after = tour[(last + 1) % size]
            gain = (
                cost[tour[first - 1], tour[first]]
                + cost[tour[last], after]
                - cost[tour[first - 1], tour[last]]
                - cost[tour[first], after]
            )
            best = int(gain.argmax())
            if gain[best] > 0:
                tour[first : last[best] + 1] = tour[first : last[best] + 1][::-1].copy()
                better = True
    return tour


def routing_library_tour(cost: Ints, *, seconds: int) -> Ints:
    """OR-tools' routing: cheapest arc first, then guided local search for some seconds."""
    from ortools.constraint_solver import (  # noqa: PLC0415 - a library of this bench alone
        pywrapcp,
        routing_enums_pb2,
    )

    manager = pywrapcp.RoutingIndexManager(len(cost), 1, 0)
    routing = pywrapcp.RoutingModel(manager)
    rows = cost.tolist()
    transit = routing.RegisterTransitMatrix(rows)
    routing.SetArcCostEvaluatorOfAllVehicles(transit)
    asked = pywrapcp.DefaultRoutingSearchParameters()
    asked.first_solution_strategy = routing_enums_pb2.FirstSolutionStrategy.PATH_CHEAPEST_ARC
    asked.local_search_metaheuristic = (
        routing_enums_pb2.LocalSearchMetaheuristic.GUIDED_LOCAL_SEARCH
    )
    asked.time_limit.seconds = seconds
    solution = routing.SolveWithParameters(asked)
    at = routing.Start(0)
    tour = []
    while not routing.IsEnd(at):
        tour.append(manager.IndexToNode(at))
        at = solution.Value(routing.NextVar(at))
    return np.array(tour, np.int64)
