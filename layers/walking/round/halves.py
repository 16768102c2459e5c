"""Cuts by halving: rows that hold for whole numbers, added up, halved and rounded down.

The {0, 1/2}-cuts of Caprara and Fischetti (1996, Mathematical Programming 74:221-235); blossoms
and combs are among them. Rows are added up so that few uses of edges keep an odd coefficient,
the uses nearest to a half first, as in Koster, Zymolka and Kutschka (2009, Algorithmica
55:375-391). Both from memory.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from layers.walking.compiled import compiled

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bytes = NDArray[np.uint8]

LEAST_BREACH = 0.05
"""A cut that is broken by less is left."""

MOST_CUTS = 30
"""Cuts from one solution at most."""


@compiled
def _paid(chosen: Bytes, prices: Floats) -> float:
    total = 0.0
    for number in range(len(chosen)):
        if chosen[number]:
            total += prices[number]
    return total


@compiled
def _sums(odd: Bytes, odd_limit: Bytes, slack: Floats, weight: Floats, breach: float) -> Bytes:
    """Which rows to add up, a line a sum; changes `odd` and `odd_limit`.

    `odd` holds 1 where a row has an odd coefficient. A cut is broken by half of 1 less the
    slack of its rows and the weight of the columns that stay odd.
    """
    rows, columns = odd.shape
    part = np.eye(rows).astype(np.uint8)
    free = np.ones(rows, np.bool_)
    found = [part[0] for _ in range(0)]
    for column in range(columns):
        pivot, fewest, least = -1, 0, np.inf
        for row in range(rows):
            if free[row] and odd[row, column]:
                loss, parts = _paid(part[row], slack), part[row].sum()
                if loss < least - 1e-9 or (loss < least + 1e-9 and parts < fewest):
                    pivot, fewest, least = row, parts, loss
        if pivot < 0:
            continue
        free[pivot] = False
        for row in range(rows):
            if free[row] and odd[row, column]:
                odd[row] ^= odd[pivot]
                part[row] ^= part[pivot]
                odd_limit[row] ^= odd_limit[pivot]
                loss = 1.0
                if odd_limit[row]:
                    loss = _paid(part[row], slack) + _paid(odd[row], weight)
                if 1.0 - loss > 2.0 * breach:
                    found.append(part[row].copy())
    sums = np.zeros((len(found), rows), np.uint8)
    for number in range(len(found)):
        sums[number] = found[number]
    return sums


def half_cuts(
    rows: NDArray[np.int8], limits: Ints, values: Floats
) -> tuple[NDArray[np.int8], Ints]:
    """Rows and their limits that every tour keeps and these uses of edges break; may be none.

    Parameters
    ----------
    rows, limits
        Whole numbers with `rows @ uses <= limits` for every tour; equal for some.
    values
        Use of each edge, from 0 to 1.
    """
    slack = np.maximum(limits - rows @ values, 0.0)
    tight = slack < 1e-6
    rows, limits, slack = (
        rows[tight],
        limits[tight],
        np.where(slack[tight] < 1e-9, 0.0, slack[tight]),
    )
    some = np.flatnonzero(values > 1e-9)
    full = some[values[some] > 0.5]  # counted by what is missing to 1
    odd_limit = (limits + (rows[:, full] & 1).sum(axis=1)) & 1
    weight = np.minimum(values[some], 1.0 - values[some])
    order = np.argsort(-weight, kind="stable")
    order = order[weight[order] > 1e-9]
    odd = np.ascontiguousarray(rows[:, some[order]] & 1).astype(np.uint8)
    sums = _sums(odd, odd_limit.astype(np.uint8), slack, weight[order], LEAST_BREACH)
    sums = np.unique(sums, axis=0).astype(np.float64)
    added = (sums @ rows.astype(np.float64)).astype(np.int64)  # whole numbers this small are exact
    limit = (sums @ limits.astype(np.float64)).astype(np.int64)
    uneven = added[:, full] & 1
    added[:, full] += uneven
    limit += uneven.sum(axis=1)
    cuts, limit = added // 2, limit // 2
    broken = cuts @ values - limit
    spread = np.linalg.norm(cuts[:, some] - cuts[:, some].mean(axis=1, keepdims=True), axis=1)
    best = np.argsort(-broken / np.maximum(spread, 1e-9), kind="stable")
    fits = cuts.max(axis=1, initial=0) <= np.iinfo(np.int8).max
    best = best[(fits & (broken > LEAST_BREACH - 1e-6))[best]][:MOST_CUTS]
    return cuts[best].astype(np.int8), limit[best]
