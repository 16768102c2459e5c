"""Rounds by a general routing library, which ours are held against."""

from __future__ import annotations

import time

import numpy as np
from numpy.typing import NDArray

from layers.walking.round.arrays import Orders, ProblemArrays

Ints = NDArray[np.int64]


def routing_library_tour(cost: Ints, *, seconds: int) -> Ints:
    """OR-tools' routing: cheapest arc first, then guided local search for some seconds."""
    from ortools.constraint_solver import (  # noqa: PLC0415 - large, and of few tests
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


def routing_library_plan(arrays: ProblemArrays, *, seconds: float) -> Orders:
    """OR-tools' routing with a prize for each stop and a limit for each walk.

    Without a limit all stops are visited, and the longest walk is to be short. The seconds are
    of processor time, so that a busy machine takes nothing from it.
    """
    from ortools.constraint_solver import (  # noqa: PLC0415 - large, and of few tests
        pywrapcp,
        routing_enums_pb2,
    )

    end, units = arrays.end, 600.0
    manager = pywrapcp.RoutingIndexManager(
        end + 1, arrays.walkers, [0] * arrays.walkers, [end] * arrays.walkers
    )
    routing = pywrapcp.RoutingModel(manager)
    rows = np.ceil((arrays.minutes + arrays.service[:, None]) * units).astype(int).tolist()

    def minutes(i: int, j: int) -> int:
        return int(rows[manager.IndexToNode(i)][manager.IndexToNode(j)])

    transit = routing.RegisterTransitCallback(minutes)
    routing.SetArcCostEvaluatorOfAllVehicles(transit)
    limited = np.isfinite(arrays.budget)
    longest = int(arrays.budget * units) if limited else int(np.sum(rows))
    routing.AddDimension(transit, 0, longest, True, "minutes")
    if limited:
        prize = longest // int(arrays.urgency[1:-1].min())
        for stop in range(1, end):
            worth = int(arrays.urgency[stop]) * prize
            routing.AddDisjunction([manager.NodeToIndex(stop)], worth)
    else:
        routing.GetDimensionOrDie("minutes").SetGlobalSpanCostCoefficient(100)
    asked = pywrapcp.DefaultRoutingSearchParameters()
    asked.first_solution_strategy = (
        routing_enums_pb2.FirstSolutionStrategy.PARALLEL_CHEAPEST_INSERTION
    )
    asked.local_search_metaheuristic = (
        routing_enums_pb2.LocalSearchMetaheuristic.GUIDED_LOCAL_SEARCH
    )
    begun = time.process_time()
    limit = routing.solver().CustomLimit(lambda: time.process_time() - begun > seconds)
    routing.AddSearchMonitor(limit)
    solution = routing.SolveWithParameters(asked)
    walks = []
    for walker in range(arrays.walkers):
        at, walk = routing.Start(walker), []
        while not routing.IsEnd(at):
            walk.append(manager.IndexToNode(at))
            at = solution.Value(routing.NextVar(at))
        walks.append(tuple(walk[1:]))
    return tuple(walks)
