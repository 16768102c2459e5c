"""The likelihood of nests that lie in many partitions: a sum over these, exact.

Every search and interval is that of `CourseLikelihood`; only its value and its derivatives are
added up here, in the order of the partitions, so that all bits are the same however many processes
there are.
"""

from __future__ import annotations

import math
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layers.nesting.season.course_likelihood import N_HAZARDS, CourseLikelihood, Floats
from layers.nesting.season.signs import SignBeliefs, sign_beliefs
from layers.nesting.season.tables import SeasonTable
from layers.pooling.season.partitions import Partition, load
from layers.pooling.season.running import Runner

MAX_CACHED_TERMS = 4_000_000
"""Terms of courses that a process holds ready between two evaluations: about 250 MB."""


@dataclass(frozen=True)
class Chosen:
    """Some attempts of a partition. `packed` has a bit for each of its `size` attempts."""

    partition: Partition
    size: int
    packed: bytes
    pooled: bool

    def mask(self) -> NDArray[np.bool_]:
        return np.unpackbits(np.frombuffer(self.packed, np.uint8), count=self.size).astype(bool)


@dataclass(frozen=True)
class _Evaluation:
    """One evaluation in one partition."""

    chosen: Chosen
    beliefs: SignBeliefs | None
    method: str
    values: Floats


_READY: OrderedDict[Any, CourseLikelihood] = OrderedDict()


def _evaluated(work: _Evaluation) -> Any:
    beliefs = work.beliefs
    # One trail's covariance is every trail's.
    key = (work.chosen, None if beliefs is None else beliefs.mean.tobytes())
    likelihood = _READY.pop(key, None)
    if likelihood is None:
        held = load(work.chosen.partition, with_courses=True)
        courses = held.table.courses.take(work.chosen.mask())
        courses = courses.pooled() if work.chosen.pooled else courses
        likelihood = CourseLikelihood(courses, beliefs=beliefs)
    _READY[key] = likelihood
    while sum(one.terms for one in _READY.values()) > MAX_CACHED_TERMS and len(_READY) > 1:
        _READY.popitem(last=False)
    return getattr(likelihood, work.method)(work.values)


class SummedLikelihood(CourseLikelihood):
    """Of the nests of many partitions.

    Parameters
    ----------
    found, weighed
        Of every attempt: what was found of it, and whether any course is known.
    """

    def __init__(
        self,
        chosen: Sequence[Chosen],
        *,
        found: NDArray[np.int64],
        weighed: NDArray[np.bool_],
        runner: Runner,
    ) -> None:
        self._chosen = list(chosen)
        self._runner = runner
        self.attempts = np.flatnonzero(weighed)
        self.beliefs = sign_beliefs(found[weighed])

    def _each(self, method: str, values: Floats) -> list[Any]:
        work = [_Evaluation(chosen, self.beliefs, method, values) for chosen in self._chosen]
        return self._runner.map(_evaluated, work)

    def _density(self, values: Floats) -> tuple[float, Floats, Floats]:
        """What the beliefs about signs put into the sum once too often for each partition."""
        size = N_HAZARDS + self.signs
        slope, curve = np.zeros(size), np.zeros((size, size))
        times = 1 - len(self._chosen)
        if self.beliefs is None:
            return 0.0, slope, curve
        value, rise, fall = self.beliefs.log_density(values[N_HAZARDS:])
        slope[N_HAZARDS:] = times * rise
        curve[N_HAZARDS:, N_HAZARDS:] = times * fall
        return times * float(value), slope, curve

    def log_likelihood(self, values: Floats) -> float:
        """With the beliefs about signs in it; may be minus infinity."""
        return float(sum(self._each("log_likelihood", values)) + self._density(values)[0])

    def evaluate(self, values: Floats) -> tuple[float, Floats, Floats]:
        """The log likelihood with its gradient and matrix of second derivatives."""
        total, slope, curve = self._density(values)
        for value, own_slope, own_curve in self._each("evaluate", values):
            if not math.isfinite(value):
                return -math.inf, np.zeros_like(slope), np.zeros_like(curve)
            total, slope, curve = total + value, slope + own_slope, curve + own_curve
        return total, slope, curve

    def drawn(self, values: Floats) -> tuple[Floats, Floats]:
        """Log likelihood of many sets of parameters, and each attempt's chance to have fledged."""
        each = self._each("drawn", values)
        logs = np.sum([own for own, _ in each], axis=0)
        logs += np.array([self._density(one)[0] for one in values])
        return logs, np.concatenate([chances for _, chances in each], axis=1)

    def risk_scores_at(self, values: Floats) -> Floats:
        """Of each of `attempts`, how its log likelihood rises with the logarithm of all risk."""
        return np.concatenate(self._each("risk_scores_at", values))


@dataclass(frozen=True)
class PooledTable(SeasonTable):
    """A table whose courses stay in their partitions.

    Attributes
    ----------
    partitions, sizes
        Where the courses are, and how many attempts each partition has.
    source, place
        Of each attempt: the position of its partition, and its own in it.
    has_terms
        Of each attempt, whether it has a course.
    """

    partitions: tuple[Partition, ...]
    sizes: tuple[int, ...]
    source: NDArray[np.int64]
    place: NDArray[np.int64]
    has_terms: NDArray[np.bool_]
    runner: Runner

    def take(self, keep: NDArray[np.bool_]) -> PooledTable:
        """The attempts that a mask chooses."""
        taken = super().take(keep)
        assert isinstance(taken, PooledTable)
        for name in ("source", "place", "has_terms"):
            object.__setattr__(taken, name, getattr(self, name)[keep])
        return taken

    def _summed(self, *, pooled: bool) -> SummedLikelihood:
        chosen = []
        for at, (partition, size) in enumerate(zip(self.partitions, self.sizes, strict=True)):
            mask = np.zeros(size, bool)
            mask[self.place[self.source == at]] = True
            if mask.any():
                chosen.append(Chosen(partition, size, np.packbits(mask).tobytes(), pooled))
        return SummedLikelihood(
            chosen, found=self.courses.found, weighed=self.has_terms, runner=self.runner
        )

    @cached_property
    def likelihood(self) -> CourseLikelihood:
        """Of the courses, with a rate for days with eggs and one for days with young."""
        return self._summed(pooled=False)

    @cached_property
    def pooled_likelihood(self) -> CourseLikelihood:
        """Of the courses, with one rate for all days."""
        return self._summed(pooled=True)
