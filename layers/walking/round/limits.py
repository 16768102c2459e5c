"""What no plan can better where walkers share the stops, or time is too short for all.

The linear relaxation of choosing and sharing stops: each edge is used, and each stop
visited, to some part. Sets of stops are entered as often as their most visited stop asks
for (Fischetti, Salazar and Toth 1998, INFORMS Journal on Computing 10:133-148) and, where
walkers share, as often as the minutes spent within need walks (the rounded capacity cuts
of vehicle routing: Laporte, Nobert and Desrochers 1985, Operations Research 33:1050-1073).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog
from scipy.sparse import coo_array, csr_array, hstack, vstack
from scipy.sparse.csgraph import connected_components

from layers.walking.round.arrays import ProblemArrays

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

MAX_PLACES = 110
"""Beyond this many stops the relaxation takes too long."""

MAX_ROUNDS = 40
"""Times the relaxation is cut anew before it is taken as it is: any of them is a bound."""

THRESHOLDS = (0.0, 0.2, 0.4, 0.6, 0.8)
"""Sets of stops that hang together by edges used more than this are tested for a cut."""

TOLERANCE = 1e-6

# scipy.optimize.linprog: what its status says.
INFEASIBLE = 2


class Relaxation:
    """The relaxation of one arrays, with the cuts found so far.

    Parameters
    ----------
    least
        Minutes between places of the arrays that no walk undercuts: symmetric between
        stops, from the start in row 0 and to the end in the last column.
    go_on
        Called now and then; no more cuts are looked for when it says no.
    """

    def __init__(self, arrays: ProblemArrays, least: Floats, go_on: Callable[[], bool]) -> None:
        self._arrays, self._go_on = arrays, go_on
        size = arrays.stops
        u, v = np.triu_indices(size, k=1)
        stops = np.arange(size)
        # Edges between stops, then one from the start to each stop, then one to the end.
        self._u, self._v = np.r_[u, stops, stops], np.r_[v, stops, stops]
        self._between = len(u)
        inner = least[1:-1, 1:-1]
        self._price = np.concatenate([inner[u, v], least[0, 1:-1], least[1:-1, -1]])
        self._service, self._urgency = arrays.service[1:-1], arrays.urgency[1:-1]
        ends = coo_array(
            (np.ones(2 * self._between), (np.r_[u, v], np.tile(np.arange(self._between), 2))),
            shape=(size, self._between),
        )
        one = coo_array((np.ones(size), (stops, stops)), shape=(size, size))
        degree = hstack([ends, one, one, -2.0 * one])
        # As many walks come home as set out.
        self._out = np.r_[np.zeros(self._between), np.ones(size), np.zeros(2 * size)]
        home = np.r_[np.zeros(self._between + size), np.ones(size), np.zeros(size)]
        self._balance = vstack([degree, self._out - home], format="csr")
        self._cuts: list[Floats] = []
        self._limits: list[float] = []

    def most_urgency(self) -> float:
        """More urgency than any plan can see within the budget of all walkers together."""
        arrays = self._arrays
        solved = self._solved(
            np.r_[np.zeros(len(self._price)), -self._urgency],
            rows=[np.r_[self._price, self._service], self._out],
            limits=[arrays.budget * arrays.walkers, float(arrays.walkers)],
            least_visit=0.0,
            longest=arrays.budget,
        )
        whole = np.equal(self._urgency % 1.0, 0.0).all()
        return float(math.floor(TOLERANCE - solved)) if whole else -solved

    def least_longest(self, longest: float) -> float:
        """Minutes that the longest walk takes at least; `longest` is that of a plan."""
        walkers, service = self._arrays.walkers, float(self._service.sum())

        def walking(least_walks: float, most_walks: float) -> float:
            return self._solved(
                np.r_[self._price, np.zeros(self._arrays.stops)],
                rows=[self._out, -self._out],
                limits=[most_walks, -least_walks],
                least_visit=1.0,
                longest=longest,
            )

        # The longest of some walks is at least as long as they are on the average.
        everybody = (service + walking(walkers, walkers)) / walkers
        fewer = (service + walking(1.0, walkers - 1.0)) / (walkers - 1.0)
        return min(everybody, fewer, longest)

    def _solved(
        self,
        aim: Floats,
        *,
        rows: list[Floats],
        limits: list[float],
        least_visit: float,
        longest: float,
    ) -> float:
        """The least that the aim comes to, infinite where the limits exclude each other."""
        edges = len(self._price)
        lower = np.r_[np.zeros(edges), np.full(self._arrays.stops, least_visit)]
        upper = np.r_[np.full(edges, np.inf), np.ones(self._arrays.stops)]
        solve: Any = linprog  # its types know no sparse rows
        value = -math.inf
        for _ in range(MAX_ROUNDS):
            solved = solve(
                aim,
                A_eq=self._balance,
                b_eq=np.zeros(self._balance.shape[0]),
                A_ub=csr_array(np.array([*rows, *self._cuts])),
                b_ub=np.array([*limits, *self._limits]),
                bounds=np.column_stack([lower, upper]),
                method="highs",
            )
            if solved.x is None:
                return math.inf if solved.status == INFEASIBLE else value
            value = float(solved.fun)
            if not (self._go_on() and self._cut(solved.x, longest)):
                break
        return value

    def _cut(self, values: Floats, longest: float) -> bool:
        """Add what a solution breaks; whether there was anything."""
        edges, size = len(self._price), self._arrays.stops
        between, visits = values[: self._between], values[edges:]
        before = len(self._cuts)
        seen: set[bytes] = set()
        for threshold in THRESHOLDS:
            strong = between > threshold + TOLERANCE
            u, v = self._u[: self._between][strong], self._v[: self._between][strong]
            graph = coo_array((np.ones(len(u)), (u, v)), shape=(size, size)).tocsr()
            count, part = connected_components(graph, directed=False)
            for number in range(count):
                inside = part == number
                if inside.tobytes() not in seen:
                    seen.add(inside.tobytes())
                    self._enter(inside, values, visits, longest)
        return len(self._cuts) > before

    def _enter(self, inside: Bools, values: Floats, visits: Floats, longest: float) -> None:
        """Add what a solution breaks of how often a set of stops is entered."""
        crossing = np.r_[
            inside[self._u[: self._between]] != inside[self._v[: self._between]], inside, inside
        ].astype(np.float64)
        entered = float(crossing @ values[: len(crossing)])
        most = int(np.where(inside, visits, -1.0).argmax())
        if entered < 2.0 * visits[most] - TOLERANCE and inside.sum() > 1:
            visit = np.zeros(len(visits))
            visit[most] = 2.0
            self._cuts.append(np.r_[-crossing, visit])
            self._limits.append(0.0)
        # A walk that enters has at most this long within.
        first, last = self._price[self._between :].reshape(2, -1)[:, inside].min(axis=1)
        room = longest - float(first + last)
        if room <= 0.0 or self._price.min() < 0.0:
            return
        service = np.where(inside, self._service, 0.0)
        if entered * room / 2.0 < float(service @ visits) - TOLERANCE:
            self._cuts.append(np.r_[-crossing * room / 2.0, service])
            self._limits.append(0.0)
        walks = math.ceil(float(service.sum()) / room - TOLERANCE)
        if visits[inside].min() > 1.0 - TOLERANCE and entered < 2.0 * walks - TOLERANCE:
            unseen = np.where(inside, 2.0 * walks, 0.0)
            self._cuts.append(np.r_[-crossing, unseen])
            self._limits.append(2.0 * walks * (float(inside.sum()) - 1.0))
