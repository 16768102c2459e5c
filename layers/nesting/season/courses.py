"""Every course that a nest's visits allow, as a sum of terms in the daily hazards.

A nest lives through `a` days with eggs and `b` days with young with the chance
exp(-(a * eggs + b * young)), where `eggs` and `young` are daily hazards. What became of it between
two looks is a difference of two such chances, so what its visits say has a likelihood

    sum of weight * exp(-(a * eggs + b * young)) * chance of the signs that were found

over its terms; a term that takes something away has a weight below 0. Only these terms are stored:
no visit is read again while rates are estimated.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layers.nesting.season.filling import FLEDGED, LOST_EGGS, LOST_YOUNG
from layers.nesting.season.intervals import Intervals

NO_SIGN_POSSIBLE, SIGNS_OF_LEAVING, SIGNS_OF_LOSS, NO_SIGN, SURE_LOSS = range(5)
"""What was found of a nest that was over. Signs can't be seen without a look, where the next
nest is on them, or where the keeper ended the nest. What only a loss leaves (all young dead, eggs
cold) is a sign of loss that cannot be wrong."""


@dataclass(frozen=True)
class Courses:
    """The terms of some nests, sorted by nest.

    Attributes
    ----------
    nest
        Position of the attempt in the table; shape (terms,) as the next four.
    end
        `FLEDGED`, `LOST_YOUNG` or `LOST_EGGS`.
    egg_days, young_days
        Lived through since the nest was first seen alive.
    weight
        Chance of the course, but for survival and signs.
    found
        Of each attempt of the table, one of the `SIGN` codes; shape (attempts,).
    begins
        Day on which each attempt was first seen alive, since 1970-01-01; shape (attempts,).
    watched
        Whether each attempt says anything of the rates: it was seen alive on two days, or once
        and then over; shape (attempts,).
    hatches
        Day on which each attempt is expected to have hatched, since 1970-01-01, with a fraction;
        nan where it is not known from courses. Shape (attempts,).
    stays
        Days that young of its species are expected to stay; nan where not known from courses.
        Shape (attempts,).
    """

    nest: NDArray[np.int64]
    end: NDArray[np.int64]
    egg_days: NDArray[np.int64]
    young_days: NDArray[np.int64]
    weight: NDArray[np.float64]
    found: NDArray[np.int64]
    begins: NDArray[np.int64]
    watched: NDArray[np.bool_]
    hatches: NDArray[np.float64]
    stays: NDArray[np.float64]

    def take(self, keep: NDArray[np.bool_]) -> Courses:
        """The terms of the attempts that a mask chooses."""
        own = keep[self.nest]
        place = np.cumsum(keep) - 1
        return Courses(
            place[self.nest[own]],
            self.end[own],
            self.egg_days[own],
            self.young_days[own],
            self.weight[own],
            self.found[keep],
            self.begins[keep],
            self.watched[keep],
            self.hatches[keep],
            self.stays[keep],
        )

    @property
    def weighed(self) -> NDArray[np.bool_]:
        """Of each attempt, whether it has a term."""
        weighed: NDArray[np.bool_] = np.bincount(self.nest, minlength=len(self.found)) > 0
        return weighed

    def sorted(self) -> Courses:
        """The same, each nest's terms next to each other."""
        order = np.argsort(self.nest, kind="stable")
        names = ("nest", "end", "egg_days", "young_days", "weight")
        ordered: dict[str, Any] = {name: getattr(self, name)[order] for name in names}
        return replace(self, **ordered)

    def merged(self) -> Courses:
        """The same, sorted, with one term for those of a nest that differ in their weight alone."""
        if len(self.nest) == 0:
            return self
        order = np.lexsort((self.young_days, self.egg_days, self.end, self.nest))
        keys = np.column_stack([self.nest, self.end, self.egg_days, self.young_days])[order]
        first = np.flatnonzero(np.r_[True, (keys[1:] != keys[:-1]).any(axis=1)])
        weight = np.add.reduceat(self.weight[order], first)
        nest, end, egg_days, young_days = keys[first].T.copy()
        terms: dict[str, Any] = {
            "nest": nest,
            "end": end,
            "egg_days": egg_days,
            "young_days": young_days,
            "weight": weight,
        }
        return replace(self, **terms)

    def pooled(self) -> Courses:
        """The same with one stage for both: all days count as days with eggs."""
        days = self.egg_days + self.young_days
        return replace(self, egg_days=days, young_days=np.zeros_like(days)).merged()


def known_courses(intervals: Intervals, fledged: NDArray[np.bool_]) -> Courses:
    """The one course of each nest whose days and end are known: days lived through, and at most
    one interval with a loss in it, its last.

    `fledged` has one an attempt: whether what lived through all its intervals fledged.
    """
    nest, lost = intervals.nest, intervals.lost
    size = len(fledged)
    lived = ~lost
    eggs = np.bincount(nest[lived], weights=intervals.egg_days[lived], minlength=size)
    young = np.bincount(nest[lived], weights=intervals.young_days[lived], minlength=size)
    watched = np.bincount(nest, minlength=size) > 0
    ends_lost = np.bincount(nest[lost], minlength=size) > 0
    alive = np.flatnonzero(watched & ~ends_lost)
    # Of an interval with hatching and a loss in it, each stage has its part.
    own = nest[lost]
    with_eggs = own[intervals.egg_days[lost] > 0]
    eggs_then = np.bincount(own, weights=intervals.egg_days[lost], minlength=size)
    young_then = np.bincount(own, weights=intervals.young_days[lost], minlength=size)
    with_young = own[intervals.young_days[lost] > 0]
    parts = (
        (alive, np.where(fledged[alive], FLEDGED, LOST_EGGS), 1.0, 0, 0),
        (with_eggs, LOST_EGGS, 1.0, 0, 0),
        (with_eggs, LOST_EGGS, -1.0, 1, 0),
        (with_young, LOST_YOUNG, 1.0, 1, 0),
        (with_young, LOST_YOUNG, -1.0, 1, 1),
    )
    ends = [np.broadcast_to(part[1], len(part[0])) for part in parts]
    weights = [np.full(len(part[0]), part[2]) for part in parts]
    return Courses(
        np.concatenate([part[0] for part in parts]),
        np.concatenate(ends).astype(np.int64),
        _days(parts, eggs, eggs_then, 3),
        _days(parts, young, young_then, 4),
        np.concatenate(weights),
        np.full(size, NO_SIGN_POSSIBLE),
        np.zeros(size, np.int64),
        watched,
        np.full(size, np.nan),
        np.full(size, np.nan),
    ).sorted()


def _days(
    parts: tuple[tuple[Any, ...], ...], lived: NDArray[Any], then: NDArray[Any], which: int
) -> NDArray[np.int64]:
    """Days of a stage in the terms of each part: those lived through, and those of the loss where
    the part's number at `which` is 1.
    """
    days = np.concatenate([lived[part[0]] + part[which] * then[part[0]] for part in parts])
    return np.asarray(days, np.int64)
