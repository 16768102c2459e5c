"""How short a round can be at best: a lower bound, so that a gap is known.

The subtour relaxation of Dantzig, Fulkerson and Johnson (1954, Operations Research
2:393-410), solved by HiGHS as it comes with scipy, then branched on where it is small. Where
there and back differ, each is a leg of its own, and every place is left once and entered once.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, linprog, milp
from scipy.sparse import coo_array, csr_array
from scipy.sparse.csgraph import breadth_first_order, connected_components, maximum_flow

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

THRESHOLDS = (0.0, 0.25, 0.5, 0.75)
"""Sets of places that hang together by edges used more than this are tested for a cut."""

MAX_ROUNDS = 80
"""Times the relaxation is cut anew before its bound is taken as it is."""

MAX_BRANCHES = 8
"""Times the branching is begun anew with more cuts."""

BRANCHED_PLACES = 110
"""Beyond this many places the relaxation's bound is taken as it is."""

NODES = 500
"""Nodes of the branching tree at most: a count, so that the answer is repeatable."""

FLOW_PLACES = 500
"""Beyond this many places flows take longer than the tour; the bound is a little lower."""

FLOW_UNITS = 1_000_000
"""Whole units in which the flow through an edge used once is counted."""

# scipy.optimize.milp: what its status says.
SOLVED, INFEASIBLE = 0, 2

NEAREST = 8
"""Edges from and to this many nearest places are looked at first; others as they prove useful."""


def _always() -> bool:
    return True


def tour_bound(
    cost: Ints,
    tour: Ints,
    *,
    tied: tuple[int, int] | None = None,
    branch: bool = True,
    go_on: Callable[[], bool] = _always,
) -> int:
    """A length that no closed tour is shorter than, at most that of `tour`.

    Parameters
    ----------
    cost
        Whole-number distances from row to column of at least 5 places.
    tour
        A good tour: the bound is worked out to show how good, and equals its length
        where it is proven shortest.
    tied
        Two places that are next to each other in every tour; their distance counts 0. Where
        there and back differ, a tour goes from the second to the first.
    branch
        Whether to go beyond the relaxation, which takes longest and pays where the tour
        may be proven shortest.
    go_on
        Called now and then; the bound is less tight when it says no.
    """
    return _Relaxation(cost, tour, tied, go_on).bound(branch=branch)


class _Relaxation:
    def __init__(
        self, cost: Ints, tour: Ints, tied: tuple[int, int] | None, go_on: Callable[[], bool]
    ) -> None:
        self.go_on = go_on
        self.cost = cost.astype(np.int64).copy()
        self.uneven = bool((cost != cost.T).any())
        if tied is not None:
            self.cost[tied] = self.cost[tied[::-1]] = 0
            tied = tied[::-1] if self.uneven else (min(tied), max(tied))
        self.tied = tied
        self.size = len(cost)
        self.best = int(self.cost[tour, np.roll(tour, -1)].sum())
        # Edges, or legs there and legs back.
        apart = ~np.eye(self.size, dtype=bool)
        self.u, self.v = np.nonzero(apart if self.uneven else np.triu(apart))
        self.leaves = 1 if self.uneven else 2  # edges or legs that leave a set of places
        self.price = self.cost[self.u, self.v].astype(np.float64)
        self.cuts: list[NDArray[np.bool_]] = []
        self.use = self._first_edges(tour)

    def _first_edges(self, tour: Ints) -> NDArray[np.bool_]:
        away = self.cost.astype(np.float64)
        np.fill_diagonal(away, np.inf)
        places = np.arange(self.size)[:, None]
        wanted = np.zeros((self.size, self.size), bool)
        wanted[places, np.argsort(away, axis=1, kind="stable")[:, :NEAREST]] = True
        wanted[np.argsort(away.T, axis=1, kind="stable")[:, :NEAREST], places] = True
        wanted[tour, np.roll(tour, -1)] = True
        if self.tied is not None:
            wanted[self.tied] = True
        if not self.uneven:
            wanted |= wanted.T
        return wanted[self.u, self.v]

    def bound(self, *, branch: bool) -> int:
        value, slack = self._relaxed()
        low = min(math.ceil(value - 1e-6), self.best)
        branch = branch and self.size <= BRANCHED_PLACES and self.go_on()
        if low >= self.best or not branch:
            return low
        # An edge whose use would cost more than the best tour is in no better one.
        self.use = value + slack <= self.best - 1 + 1e-6
        return max(low, self._branched())

    def _rows(self) -> tuple[Ints, Any, Floats, Floats]:
        """Edges in use, which of them leave each place and each cut set, and their limits.

        Legs there and back also enter each place, which comes after all that leave one.
        """
        edges = np.flatnonzero(self.use)
        u, v = self.u[edges], self.v[edges]
        each = np.eye(self.size, dtype=bool)
        sets = np.array(self.cuts, bool).reshape(-1, self.size)
        if self.uneven:
            rows = np.concatenate([each[:, u], each[:, v], sets[:, u] & ~sets[:, v]])
        else:
            rows = np.concatenate([each[:, u] | each[:, v], sets[:, u] != sets[:, v]])
        leaving = csr_array(rows, dtype=np.float64)
        lower = np.zeros(len(edges))
        if self.tied is not None:
            lower[(u == self.tied[0]) & (v == self.tied[1])] = 1.0
        return edges, leaving, lower, np.ones(len(edges))

    def _relaxed(self) -> tuple[float, Floats]:
        """Value of the relaxation over all edges, and how much dearer each edge is in it."""
        each = self.size * (3 - self.leaves)  # rows of single places come first
        for _ in range(MAX_ROUNDS):
            edges, leaving, lower, upper = self._rows()
            solve: Any = linprog  # its types know no sparse rows
            solved = solve(
                self.price[edges],
                A_eq=leaving[:each],
                b_eq=np.full(each, float(self.leaves)),
                A_ub=-leaving[each:] if self.cuts else None,
                b_ub=np.full(len(self.cuts), -float(self.leaves)) if self.cuts else None,
                bounds=np.column_stack([lower, upper]),
                method="highs",
            )
            duals = np.r_[solved.eqlin.marginals, -solved.ineqlin.marginals]
            if not self.go_on():
                break
            found = self._cut_off(solved.x)
            if not found and self.size <= FLOW_PLACES:
                found = self._thinnest(solved.x)
            if not found:
                slack = self._slack(duals)
                missing = ~self.use & (slack < -1e-6)
                if not missing.any():
                    return float(solved.fun), slack
                self.use |= missing
            self.cuts += found
        slack = self._slack(np.r_[duals, np.zeros(each + len(self.cuts) - len(duals))])
        value = float(solved.fun)
        # Edges still left out that would have helped weaken the bound by that much.
        value += float(np.minimum(np.where(self.use, 0.0, slack), 0.0).sum())
        return value, slack

    def _slack(self, duals: Floats) -> Floats:
        """Price of each edge less what its rows pay for it."""
        members = np.array(self.cuts, np.float64).reshape(-1, self.size)
        sets = duals[len(duals) - len(members) :]
        # A set pays for an edge with one end inside: for both ends, less twice for "both inside";
        # and for a leg that begins inside, less once for "both inside".
        both = (members.T * sets) @ members
        begin = end = duals[: self.size] + sets @ members
        if self.uneven:
            end = duals[self.size : 2 * self.size]
        slack: Floats = self.price - begin[self.u] - end[self.v]
        slack += self.leaves * both[self.u, self.v]
        return slack

    def _cut_off(self, values: Floats) -> list[NDArray[np.bool_]]:
        """Sets of places that the edges used leave too seldom."""
        edges = np.flatnonzero(self.use)
        u, v = self.u[edges], self.v[edges]
        known = {cut.tobytes() for cut in self.cuts}
        found = []
        for threshold in THRESHOLDS:
            strong = values > threshold + 1e-6
            graph = coo_array((values[strong], (u[strong], v[strong])), shape=(self.size,) * 2)
            count, part = connected_components(graph.tocsr(), directed=False)
            for number in range(count if count > 1 else 0):
                inside = part == number
                inside = inside if not inside[0] else ~inside
                # Legs leave a set as often as they enter it.
                leaving = values[inside[u] != inside[v]].sum()
                if leaving < 2.0 - 1e-6 and inside.tobytes() not in known:
                    known.add(inside.tobytes())
                    found.append(inside)
        return found

    def _thinnest(self, values: Floats) -> list[NDArray[np.bool_]]:
        """Cuts by the least flow from place 0 to each other place: finds any there is."""
        edges = np.flatnonzero(self.use)[values > 1e-6]
        flow = np.rint(values[values > 1e-6] * FLOW_UNITS).astype(np.int32)
        u, v = self.u[edges], self.v[edges]
        if not self.uneven:
            flow, u, v = np.r_[flow, flow], np.r_[u, v], np.r_[v, u]
        graph = coo_array((flow, (u, v)), shape=(self.size,) * 2).tocsr()
        found: list[NDArray[np.bool_]] = []
        for place in range(1, self.size):
            if any(cut[place] for cut in found):
                continue
            carried = maximum_flow(graph, 0, place)
            if carried.flow_value < self.leaves * FLOW_UNITS - self.size:
                left: Any = graph - carried.flow
                left.data = np.where(left.data > 0, 1, 0)
                left.eliminate_zeros()
                reached = breadth_first_order(left, 0, return_predecessors=False)
                inside = np.ones(self.size, bool)
                inside[reached] = False
                found.append(inside)
        known = {cut.tobytes() for cut in self.cuts}
        return [cut for cut in found if cut.tobytes() not in known]

    def _branched(self) -> int:
        """The bound after branching, cutting off every subtour that comes up."""
        low = 0
        for _ in range(MAX_BRANCHES):
            if not self.go_on():
                break
            edges, leaving, lower, upper = self._rows()
            most = np.full(leaving.shape[0], np.inf)
            most[: leaving.shape[0] - len(self.cuts)] = self.leaves
            solved = milp(
                self.price[edges],
                integrality=np.ones(len(edges), np.int64),
                bounds=Bounds(lower, upper),
                constraints=LinearConstraint(leaving, self.leaves, most),
                options={"node_limit": NODES, "mip_rel_gap": 0.0},
            )
            if solved.status == INFEASIBLE:
                return self.best
            if solved.mip_dual_bound is not None:
                low = max(low, min(math.ceil(solved.mip_dual_bound - 1e-6), self.best))
            if solved.x is None or solved.status != SOLVED or low >= self.best:
                return low
            found = self._cut_off(np.rint(solved.x))
            if not found:
                return low
            self.cuts += found
        return low
