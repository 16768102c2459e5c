"""Whether groups of nests ran different risks, by shuffling: right also where losses are few.

One risk is fitted to all nests. Each nest then has a score: how much its likelihood rises with the
logarithm of the risk, which is 1 less the losses expected of it where it was lost, and minus these
where it was not. Were groups alike, their sums of scores would differ by chance alone, as those of
shuffled groups do. Boxes are shuffled whole, since nests of a box are alike.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.random import default_rng
from numpy.typing import NDArray

from layers.nesting import attempt_columns as c
from layers.nesting.season.means import SEED
from layers.nesting.season.result import NORMAL_95
from layers.nesting.season.tables import SeasonTable

LEAST_NESTS = 5
"""Nests watched that a group needs to be compared (our own choice, no source)."""

# Draws: p has a standard error of 0.005 at 0.05. With very many boxes fewer do.
_MAX_DRAWS, _LEAST_DRAWS, _MAX_NUMBERS = 1999, 199, 20_000_000


@dataclass(frozen=True)
class Resampled:
    """Groups held against shuffled ones.

    Attributes
    ----------
    p_value
        Share of shuffled groups that differ as much, those at hand among them.
    compared
        Names of the groups.
    n
        Nests in them.
    power_of_half
        The chance that a study of this size finds a risk half as high in the smallest of the
        groups as in the others (Schoenfeld 1981, Biometrika 68:316-319; from memory).
    """

    p_value: float
    compared: tuple[str, ...]
    n: int
    power_of_half: float


def resampled(table: SeasonTable, labels: Sequence[str | None]) -> Resampled | None:
    """Hold the groups with enough nests against shuffled ones; None where fewer than two have
    enough, or no nest was lost.

    Parameters
    ----------
    labels
        The group of each attempt; None = not known.
    """
    given = np.array([label or "" for label in labels], object)
    watched = table.courses.watched & (given != "")
    names, sizes = np.unique(given[watched].astype(str), return_counts=True)
    compared = names[sizes >= LEAST_NESTS]
    own = table.take(watched & np.isin(given, compared))
    if len(compared) < 2 or not own.likelihood.best.hazards.any():
        return None
    of_nest = np.searchsorted(compared, given[watched & np.isin(given, compared)].astype(str))
    scores = own.likelihood.risk_scores
    unit, of_unit = _units(own.rows[own.likelihood.attempts, c.BOX], of_nest)
    sums, weights = np.bincount(unit, weights=scores), np.bincount(unit)
    random = default_rng(SEED)
    draws = int(np.clip(_MAX_NUMBERS // len(sums), _LEAST_DRAWS, _MAX_DRAWS))
    shuffled = random.permuted(np.tile(of_unit.astype(np.int16), (draws, 1)), axis=1)
    found = _apart(sums, weights, of_unit[None], len(compared))[0]
    alike = int(np.sum(_apart(sums, weights, shuffled, len(compared)) >= found * (1 - 1e-9)))
    share = float(np.bincount(of_nest).min()) / len(of_nest)
    information = float(scores @ scores) * share * (1 - share)
    return Resampled(
        p_value=(1 + alike) / (1 + draws),
        compared=tuple(compared.tolist()),
        n=len(of_nest),
        power_of_half=_normal_below(math.log(2) * math.sqrt(information) - NORMAL_95),
    )


def _units(
    boxes: NDArray[np.int32], of_nest: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """What is shuffled whole, and the group of each: boxes, or nests where a box has several."""
    _, first, unit = np.unique(boxes, return_index=True, return_inverse=True)
    if (of_nest == of_nest[first][unit]).all():
        return unit, of_nest[first]
    return np.arange(len(boxes)), of_nest


def _apart(
    sums: NDArray[Any],
    weights: NDArray[Any],
    of_unit: NDArray[np.int16] | NDArray[np.int64],
    groups: int,
) -> NDArray[np.float64]:
    """How far the groups' sums of scores lie from 0, for their numbers of nests; one a row of
    `of_unit`.
    """
    apart = np.zeros(len(of_unit))
    for group in range(groups):
        own = of_unit == group
        apart += (own @ sums) ** 2 / np.maximum(own @ weights, 1)
    return apart


def _normal_below(z: float) -> float:
    return 0.5 * (1 + math.erf(z / math.sqrt(2)))
