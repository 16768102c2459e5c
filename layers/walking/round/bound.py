"""How short a round can be at best: a lower bound, so that a gap is known.

The subtour relaxation of Dantzig, Fulkerson and Johnson (1954, Operations Research
2:393-410), solved by HiGHS as it comes with scipy, then cut by halves (`halves`) and branched on
where it is small. Where there and back differ, each is a leg of its own, and every place is left
once and entered once.

A relaxation's bound is that of its prices of places and cuts, rounded and added up in whole
numbers, so no error of floating point is in it. The bound of branching is as HiGHS has it, less
`MARGIN`.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, linprog, milp
from scipy.sparse import coo_array, csr_array
from scipy.sparse.csgraph import breadth_first_order, connected_components, maximum_flow

from layers.walking.round.halves import half_cuts

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

THRESHOLDS = (0.0, 0.25, 0.5, 0.75)
"""Sets of places that hang together by edges used more than this are tested for a cut."""

MAX_ROUNDS = 80
"""Times the relaxation is cut anew before its bound is taken as it is."""

HALF_ROUNDS = 80
"""Times the relaxation is cut by halves before it is branched on."""

WIDE = 5
"""With fewer edges for each place to choose from, branching at once is quicker; so it is where
there and back differ, whatever their number: cuts by halves then took four times as long."""

FLOW_EVERY = 10
"""Cutting by halves, flows are tried once in so many rounds, as they take longest."""

KEPT_SLACK = 0.3
"""Cuts by halves that are farther from their limit are dropped."""

FINE = 2**16
"""Parts of a unit of length in which prices of places and cuts are whole numbers."""

MARGIN = 1e-6
"""Part of the length by which a bound of HiGHS's branching is lowered: its tolerance, while a
place of the tour costs a small part of it."""

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


@dataclass(frozen=True)
class _Known:
    """What every tour keeps: sets of places that it leaves; and rows @ uses of edges <= limits."""

    cuts: tuple[NDArray[np.bool_], ...]
    halves: NDArray[np.int8]
    limits: Ints

    @property
    def rows(self) -> int:
        return len(self.cuts) + len(self.limits)

    def sets(self, size: int) -> NDArray[np.bool_]:
        return np.array(self.cuts, bool).reshape(-1, size)

    def least(self, each: int, leaves: int) -> Ints:
        """The least of each row: those of single places and of sets, then of halves negated."""
        least: Ints = np.r_[np.full(each + len(self.cuts), leaves), -self.limits]
        return least


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
        self.price = self.cost[self.u, self.v]
        self.known = _Known((), np.zeros((0, len(self.u)), np.int8), np.zeros(0, np.int64))
        self.use = self._first_edges(tour)
        self.open = np.ones(len(self.u), bool)  # edges that a better tour may have

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
        low = self._relaxed()
        branch = branch and self.size <= BRANCHED_PLACES and self.go_on()
        wide = not self.uneven and self.open.sum() > WIDE * self.size
        if low < self.best and branch and wide:
            low = max(low, self._relaxed(halving=True))
        if low < self.best and branch:
            self.use = self.open
            low = max(low, self._branched())
        return low

    def _each(self, edges: Ints) -> NDArray[np.bool_]:
        """Which edges leave each place; and which legs enter it, after all that leave one."""
        places = np.eye(self.size, dtype=bool)
        leave, enter = places[:, self.u[edges]], places[:, self.v[edges]]
        return np.concatenate([leave, enter]) if self.uneven else leave | enter

    def _rows(self) -> tuple[Ints, Any, Floats, Floats]:
        """Edges in use, which leave each place and each cut set, limits of each edge and row.

        Rows of places come first and are equal to their limit, which others are at least.
        """
        edges = np.flatnonzero(self.use)
        u, v = self.u[edges], self.v[edges]
        sets = self.known.sets(self.size)
        leaving = sets[:, u] & ~sets[:, v] if self.uneven else sets[:, u] != sets[:, v]
        each = self._each(edges)
        rows = np.concatenate([each, leaving, -self.known.halves[:, edges]])
        least = self.known.least(len(each), self.leaves).astype(np.float64)
        between = np.column_stack([self._held()[edges], np.ones(len(edges))])
        return edges, csr_array(rows, dtype=np.float64), between, least

    def _held(self) -> NDArray[np.bool_]:
        """Edges that every tour has."""
        if self.tied is None:
            return np.zeros(len(self.u), bool)
        held: NDArray[np.bool_] = (self.u == self.tied[0]) & (self.v == self.tied[1])
        return held

    def _relaxed(self, *, halving: bool = False) -> int:
        """The bound of the relaxation; closes the edges that a better tour cannot have."""
        each = self.size * (3 - self.leaves)  # rows of single places come first
        duals, known = np.zeros(each + self.known.rows), self.known
        for number in range(HALF_ROUNDS if halving else MAX_ROUNDS):
            edges, rows, between, least = self._rows()
            solve: Any = linprog  # its types know no sparse rows
            solved = solve(
                self.price[edges],
                A_eq=rows[:each],
                b_eq=least[:each],
                A_ub=-rows[each:] if len(least) > each else None,
                b_ub=-least[each:] if len(least) > each else None,
                bounds=between,
                method="highs",
            )
            if solved.x is None:
                break
            duals, known = np.r_[solved.eqlin.marginals, -solved.ineqlin.marginals], self.known
            if not self.go_on():
                break
            found = self._cut_off(solved.x)
            flows = self.size <= FLOW_PLACES and (not halving or number % FLOW_EVERY == 0)
            if not found and flows:
                found = self._thinnest(solved.x)
            if found:
                self.known = replace(known, cuts=known.cuts + tuple(found))
                continue
            missing = self.open & ~self.use & (self._slack(duals, known) < -1e-6)
            if missing.any():
                self.use |= missing
                continue
            proven = solved.fun > self.best - 1 + 1e-3
            if proven or not (halving and self._halve(solved.x)):
                break
        return self._proven(duals, known)

    def _proven(self, duals: Floats, known: _Known) -> int:
        """The bound that prices of places and cuts prove, whatever they are.

        Closes the edges whose use would cost more than the best tour.
        """
        each = self.size * (3 - self.leaves)
        prices = np.rint(duals * FINE).astype(np.int64)
        prices[each:] = np.maximum(prices[each:], 0)
        slack = self._slack(prices, known)
        held = self._held()
        low = int(prices @ known.least(each, self.leaves))
        low += int(np.where(held, slack, np.minimum(slack, 0))[self.open].sum())
        self.open &= held | (low + slack <= (self.best - 1) * FINE)
        self.use &= self.open
        return min(-(-low // FINE), self.best) if self.open.any() else self.best

    def _slack(self, duals: NDArray[Any], known: _Known) -> NDArray[Any]:
        """Price of each edge less what its rows pay for it; in parts of a unit for whole duals."""
        kind = duals.dtype
        members = known.sets(self.size).astype(kind)
        sets = duals[len(duals) - len(known.limits) - len(members) :][: len(members)]
        # A set pays for an edge with one end inside: for both ends, less twice for "both inside";
        # and for a leg that begins inside, less once for "both inside".
        both = (members.T * sets) @ members
        begin = end = duals[: self.size] + sets @ members
        if self.uneven:
            end = duals[self.size : 2 * self.size]
        unit = FINE if kind == np.int64 else 1
        slack: NDArray[Any] = self.price.astype(kind) * unit - begin[self.u] - end[self.v]
        slack += self.leaves * both[self.u, self.v]
        if len(known.limits):
            slack += duals[len(duals) - len(known.limits) :] @ known.halves.astype(kind)
        return slack

    def _halve(self, values: Floats) -> bool:
        """Cut by halves, and drop such cuts that are far from their limits; whether any is new."""
        uses = np.zeros(len(self.u))
        uses[self.use] = values
        known = self.known
        near = known.limits - known.halves @ uses < KEPT_SLACK
        halves, limits = known.halves[near], known.limits[near]
        sets = known.sets(self.size)
        each = self._each(np.arange(len(self.u)))
        rows = np.concatenate([each, sets[:, self.u] & sets[:, self.v], halves]).astype(np.int8)
        most = np.r_[np.full(len(each), self.leaves), sets.sum(axis=1) - 1, limits]
        found, limit = half_cuts(rows, most, uses)
        self.known = _Known(known.cuts, np.vstack([halves, found]), np.r_[limits, limit])
        return len(found) > 0

    def _cut_off(self, values: Floats) -> list[NDArray[np.bool_]]:
        """Sets of places that the edges used leave too seldom."""
        edges = np.flatnonzero(self.use)
        u, v = self.u[edges], self.v[edges]
        known = {cut.tobytes() for cut in self.known.cuts}
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
        known = {cut.tobytes() for cut in self.known.cuts}
        return [cut for cut in found if cut.tobytes() not in known]

    def _branched(self) -> int:
        """The bound after branching, cutting off every subtour that comes up."""
        low = 0
        for _ in range(MAX_BRANCHES):
            if not self.go_on():
                break
            edges, rows, between, least = self._rows()
            most = np.full(len(least), np.inf)
            most[: self.size * (3 - self.leaves)] = self.leaves
            solved = milp(
                self.price[edges],
                integrality=np.ones(len(edges), np.int64),
                bounds=Bounds(*between.T),
                constraints=LinearConstraint(rows, least, most),
                options={"node_limit": NODES, "mip_rel_gap": 0.0},
            )
            if solved.status == INFEASIBLE:
                return self.best
            if solved.mip_dual_bound is not None:
                safe = solved.mip_dual_bound - MARGIN * abs(solved.mip_dual_bound)
                low = max(low, min(math.ceil(safe), self.best))
            if solved.x is None or solved.status != SOLVED or low >= self.best:
                return low
            found = self._cut_off(np.rint(solved.x))
            if not found:
                return low
            self.known = replace(self.known, cuts=self.known.cuts + tuple(found))
        return low
