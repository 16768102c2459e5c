"""The likelihood of all courses of some nests, in daily hazards of the egg and the young stage.

A nest lives through t days of a hazard h with the chance exp(-h t), so daily survival is exp(-h).
With one course a nest, its days and its end known, this is the likelihood of Johnson 1979; with
several it weighs each by what the visits say of it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

from layers.nesting.season.climbing import climb
from layers.nesting.season.courses import Courses
from layers.nesting.season.filling import FLEDGED, N_ENDS
from layers.nesting.season.result import NORMAL_95
from layers.nesting.season.signs import (
    N_SIGN_RATES,
    SignBeliefs,
    found_chances,
    sign_beliefs,
    sign_chances,
)

Floats = NDArray[np.float64]

MOST = 50.0
"""A hazard beyond which nothing lives to the next day: exp(-50) is 2e-22."""
_NEAR_ZERO = 1e-12
# A likelihood of one nest below this is 0, but for rounding.
_LEAST = 1e-290
# At a top, values move by the square of this share.
_NEARLY = 1e-6
_MAX_NEWTON = 25
_SAME = 1e-11
# Where searches begin: about the daily loss of boxes (Radunzel et al. 1997; see `dating.model`).
_START = 0.01
EGGS, YOUNG, N_HAZARDS = range(3)
# Cells of a matrix in which many sets of parameters are worked out at a time: 16 MB.
_CELLS_AT_ONCE = 2_000_000

Days = tuple[float, float]


@dataclass(frozen=True)
class Fit:
    """The parameters of the highest likelihood.

    Attributes
    ----------
    hazards
        With eggs and with young, a day.
    rates
        Of signs, on the logit; empty where no sign was ever written down.
    log_likelihood
        At the top, with the beliefs about signs in it.
    """

    hazards: Floats
    rates: Floats
    log_likelihood: float

    @property
    def values(self) -> Floats:
        """Hazards and rates in one."""
        return np.concatenate([self.hazards, self.rates])


class CourseLikelihood:
    """Of the courses of some nests.

    Parameters
    ----------
    courses
        Those of a season's table.
    beliefs
        About signs; None = from these nests' own signs.
    risk
        The daily risk of each attempt beside that of the others; None = the same for all.
    """

    def __init__(
        self, courses: Courses, *, beliefs: SignBeliefs | None = None, risk: Floats | None = None
    ) -> None:
        weighed = courses.weighed
        self.attempts = np.flatnonzero(weighed)
        place = np.cumsum(weighed) - 1
        group, row = np.unique(place[courses.nest] * N_ENDS + courses.end, return_inverse=True)
        # Many courses have the same days, and so the same chance to be lived through.
        risk = np.ones(len(weighed)) if risk is None else risk
        risks, kind = np.unique(risk, return_inverse=True)
        days = kind[courses.nest], courses.egg_days, courses.young_days
        sizes = [int(one.max(initial=0)) + 1 for one in days]
        lived, column = np.unique(np.ravel_multi_index(days, sizes), return_inverse=True)
        at_risk, eggs, young = np.unravel_index(lived, sizes)
        # A day of twice the risk counts like two days.
        self._eggs, self._young = eggs * risks[at_risk], young * risks[at_risk]
        self._weights = csr_array((courses.weight, (row, column)), shape=(len(group), len(lived)))
        self._nest, self._end = group // N_ENDS, group % N_ENDS
        self._nests = np.searchsorted(self._nest, np.arange(len(self.attempts)))
        self._found = courses.found[self.attempts][self._nest]
        self.beliefs = beliefs or sign_beliefs(courses.found[self.attempts])

    @property
    def terms(self) -> int:
        """How many terms its sums have."""
        return int(self._weights.nnz)

    @property
    def signs(self) -> int:
        """How many rates of signs there are."""
        return N_SIGN_RATES if self.beliefs is not None else 0

    @cached_property
    def _powers(self) -> Floats:
        """Of the days of each column, what the derivatives sum: first ones 1 and 2 (after the
        chance itself), second ones 3 to 5.
        """
        eggs, young = self._eggs, self._young
        return np.column_stack([np.ones_like(eggs), eggs, young, eggs**2, eggs * young, young**2])

    def _moments(self, values: Floats, powers: Floats) -> Floats:
        """Of each nest's courses with one end, the chance of all, without signs, and the sums of
        `powers` of days weighed by it; shape (ends of nests, powers).
        """
        eggs, young = values[:N_HAZARDS]
        lived = np.exp(-(self._eggs * eggs + self._young * young))
        moments: Floats = self._weights @ (lived[:, None] * powers)
        # A difference of two chances may fall below 0 by rounding alone.
        moments[:, 0] = np.maximum(moments[:, 0], 0.0)
        return moments

    def _per_nest(self, values: Floats) -> Floats:
        if len(self._nests) == 0:
            return np.zeros((0, *values.shape[1:]))
        return np.add.reduceat(values, self._nests, axis=0)

    def log_likelihood(self, values: Floats) -> float:
        """With the beliefs about signs in it; may be minus infinity."""
        sums = self._moments(values, self._powers[:, :1])[:, 0]
        total = 0.0
        if self.beliefs is not None:
            sums = sums * found_chances(values[N_HAZARDS:])[self._end, self._found]
            total = float(self.beliefs.log_density(values[N_HAZARDS:])[0])
        with np.errstate(divide="ignore"):
            return total + float(np.log(self._per_nest(sums)).sum())

    def evaluate(self, values: Floats) -> tuple[float, Floats, Floats]:
        """The log likelihood with its gradient and matrix of second derivatives."""
        moments = self._moments(values, self._powers)
        sums = moments[:, 0]
        size = N_HAZARDS + self.signs
        slope, curve = np.zeros(size), np.zeros((size, size))
        chance = np.ones(len(sums))
        if self.beliefs is not None:
            signs = sign_chances(values[N_HAZARDS:])
            chance = signs.chance[self._end, self._found]
        likelihood = self._per_nest(sums * chance)
        if not (likelihood > _LEAST).all():
            return -math.inf, slope, curve
        total = float(np.log(likelihood).sum())
        share = chance / likelihood[self._nest]
        first = np.zeros((len(sums), size))
        by_stages, rates = slice(N_HAZARDS), slice(N_HAZARDS, size)
        first[:, by_stages] = -share[:, None] * moments[:, 1:3]
        curve[by_stages, by_stages] = (share @ moments)[[[3, 4], [4, 5]]]
        if self.beliefs is not None:
            own = signs.slope[self._end, self._found]
            held = (share * sums)[:, None]
            first[:, rates] = held * own
            curve[by_stages, rates] = first[:, by_stages].T @ own
            curve[rates, by_stages] = curve[by_stages, rates].T
            curve[rates, rates] = first[:, rates].T @ own
            bend = (held * signs.curve[self._end, self._found]).sum(axis=0)
            before, rise, fall = self.beliefs.log_density(values[N_HAZARDS:])
            curve[rates, rates] += np.diag(bend) + fall
            slope[rates] = rise
            total += float(before)
        each = self._per_nest(first)
        return total, slope + each.sum(axis=0), curve - each.T @ each

    @cached_property
    def best(self) -> Fit:
        """The top: a hazard is 0 with no loss in its stage, `MOST` with no survivor."""
        low = np.r_[np.full(N_HAZARDS, _NEAR_ZERO), np.full(self.signs, -np.inf)]
        high = np.r_[np.full(N_HAZARDS, MOST), np.full(self.signs, np.inf)]
        mean = self.beliefs.mean if self.beliefs is not None else np.zeros(0)
        start = np.r_[np.full(N_HAZARDS, _START), mean]
        at, value = climb(self.evaluate, start, low, high)
        for stage in (EGGS, YOUNG):
            for end in (0.0, MOST):
                there = at.copy()
                there[stage] = end
                if self.log_likelihood(there) >= value - _NEAR_ZERO:
                    at, value = there, max(value, self.log_likelihood(there))
                    break
        return Fit(at[:N_HAZARDS], at[N_HAZARDS:], value)

    @cached_property
    def covariance(self) -> Floats:
        """Of hazards and rates, from the observed information; 0 for a hazard at a bound."""
        at = self.best.values
        inside = np.ones(len(at), bool)
        inside[:N_HAZARDS] = (at[:N_HAZARDS] > 0) & (at[:N_HAZARDS] < MOST)
        covariance = np.zeros((len(at), len(at)))
        information = -self.evaluate(np.where(inside, at, np.maximum(at, _NEAR_ZERO)))[2]
        own = np.ix_(inside, inside)
        if inside.any():
            covariance[own] = np.linalg.pinv(information[own], hermitian=True)
        return covariance

    def error(self, days: Days) -> float | None:
        """Standard error of the hazard over `days` of each stage, by the delta method.

        None at an end of the scale, where the curvature at the top means nothing.
        """
        weights = np.array(days)
        used = self.best.hazards[weights > 0]
        if np.any(used <= 0) or np.any(used >= MOST):
            return None
        own = self.covariance[:N_HAZARDS, :N_HAZARDS]
        return math.sqrt(max(float(weights @ own @ weights), 0.0))

    def profile(
        self, total: float, days: Days, start: Floats | None = None
    ) -> tuple[float, Floats]:
        """The highest log likelihood with the hazard over `days` of each stage held at `total`,
        and the parameters there.
        """
        held, free = (EGGS, YOUNG) if days[EGGS] > 0 else (YOUNG, EGGS)
        size = N_HAZARDS + self.signs
        # The values are `base + way @ (free hazard, rates)`.
        base, way = np.zeros(size), np.zeros((size, size - 1))
        base[held] = total / days[held]
        way[held, 0], way[free, 0] = -days[free] / days[held], 1.0
        way[N_HAZARDS:, 1:] = np.eye(self.signs)
        most = total / days[free] if days[free] > 0 else MOST
        least = min(_NEAR_ZERO, most / 2)
        low = np.r_[least, np.full(self.signs, -np.inf)]
        high = np.r_[most * (1 - 1e-15), np.full(self.signs, np.inf)]
        begin = self.best.values if start is None else start
        begin = np.r_[begin[free], begin[N_HAZARDS:]]
        begin[0] = min(max(begin[0], least), most / 2 if days[free] > 0 else MOST)

        def values(at: Floats) -> Floats:
            all_values = base + way @ at
            # The difference of two equal hazards may fall below 0 by rounding alone.
            all_values[:N_HAZARDS] = np.maximum(all_values[:N_HAZARDS], 0.0)
            return all_values

        def along(at: Floats) -> tuple[float, Floats, Floats]:
            value, slope, curve = self.evaluate(values(at))
            return value, way.T @ slope, way.T @ curve @ way

        at, value = climb(along, begin, low, high, settled=_NEARLY)
        for end in (0.0, most):
            value = max(value, self.log_likelihood(values(np.r_[end, at[1:]])))
        return value, values(at)

    def profile_interval(self, days: Days) -> Days:
        """Ends of the 95 % likelihood interval of the hazard over `days` of each stage.

        References
        ----------
        Venzon & Moolgavkar 1988, Applied Statistics 37:87-94 (from memory).
        """
        ends = [self._direct_end(days, side) for side in (-1, 1)]
        if None in ends:
            ends = list(self._searched_ends(days))
        return ends[0] or 0.0, ends[1] or 0.0

    def _direct_end(self, days: Days, side: int) -> float | None:
        """Newton's way to where the likelihood has fallen far enough and is level along all ways
        that leave the total as it is; None where that runs to the end of the scale.
        """
        best, error = self.best, self.error(days)
        weights = np.r_[days, np.zeros(self.signs)]
        estimate = float(weights @ best.values)
        if not error or error > estimate:
            return None
        # A hazard of 0 stays there, if the likelihood does not rise from it.
        free = np.flatnonzero(np.r_[best.hazards > 0, np.ones(self.signs, bool)])
        at = best.values + (self.covariance @ weights) * side * NORMAL_95 / error
        total = estimate * math.exp(side * NORMAL_95 * error / estimate)
        at[:N_HAZARDS] = np.maximum(at[:N_HAZARDS], best.hazards / 10)
        # A stage that does not count stays where it is.
        counts = weights[:N_HAZARDS] > 0
        at[:N_HAZARDS][counts] *= total / float(weights @ at)
        wanted = best.log_likelihood - NORMAL_95**2 / 2
        # The ways that leave the total as it is.
        level = np.linalg.svd(weights[None, free])[2][1:]
        for _ in range(_MAX_NEWTON):
            value, slope, curve = self.evaluate(at)
            if not math.isfinite(value):
                return None
            off = np.r_[value - wanted, level @ slope[free]]
            falls = np.vstack([slope[free], level @ curve[np.ix_(free, free)]])
            step = np.zeros_like(at)
            step[free] = np.linalg.lstsq(falls, -off, rcond=None)[0]
            there = at + step
            if (there[free] <= 0)[: len(free) - self.signs].any():
                return None
            moved = float(np.max(np.abs(step) / (np.abs(at) + 1e-8)))
            at = there
            if moved < _SAME:
                found = float(weights @ at)
                level_at_0 = (slope[:N_HAZARDS][best.hazards == 0] <= 0).all()
                return found if level_at_0 and (found - estimate) * side > 0 else None
        return None

    def _searched_ends(self, days: Days) -> Days:
        """The same by profiles: slower, and for every case."""
        from scipy.optimize import brentq  # noqa: PLC0415 - slow to load, and seldom needed

        best = self.best
        estimate, most = float(np.dot(best.hazards, days)), MOST * sum(days)
        start = best.values

        def fall(log_total: float) -> float:
            """How far the likelihood falls, in standard errors, less those of the interval."""
            nonlocal start
            value, start = self.profile(math.exp(log_total), days, start)
            drop = best.log_likelihood - max(value, -1e300)
            return math.sqrt(2 * max(drop, 0.0)) - NORMAL_95

        low, high = 0.0, most
        if estimate > 0 and fall(math.log(_NEAR_ZERO)) > 0:
            start = best.values
            inside = math.log(min(estimate, most))
            outside = inside - 1
            while fall(outside) < 0:
                inside, outside = outside, outside - 1
            low = math.exp(brentq(fall, outside, inside, xtol=1e-10))
        start = best.values
        if estimate < most and fall(math.log(most)) > 0:
            start = best.values
            inside = math.log(max(estimate, _NEAR_ZERO))
            outside = max(inside + 1, math.log(_START * max(days) / 4))
            while fall(outside) < 0:
                inside, outside = outside, min(outside + 1, math.log(most))
            high = math.exp(brentq(fall, inside, outside, xtol=1e-10))
        return low, high

    @cached_property
    def risk_scores(self) -> Floats:
        """Of each of `attempts`, how its log likelihood rises with the logarithm of all risk."""
        return self.risk_scores_at(self.best.values)

    def risk_scores_at(self, values: Floats) -> Floats:
        """The same at other parameters than the best."""
        eggs, young = values[:N_HAZARDS]
        sums, egg_days, young_days = self._moments(values, self._powers[:, :3]).T
        by_risk = -(egg_days * eggs + young_days * young)
        if self.beliefs is not None:
            chance = found_chances(values[N_HAZARDS:])[self._end, self._found]
            sums, by_risk = sums * chance, by_risk * chance
        return self._per_nest(by_risk) / self._per_nest(sums)

    def drawn(self, values: Floats) -> tuple[Floats, Floats]:
        """Log likelihood of many sets of parameters, and each attempt's chance to have fledged.

        Parameters
        ----------
        values
            Shape (sets, parameters).

        Returns
        -------
        tuple
            Arrays of the shapes (sets,) and (sets, attempts).
        """
        size = len(values)
        logs, chances = np.zeros(size), np.zeros((size, len(self.attempts)))
        groups, columns = self._weights.shape
        step = max(_CELLS_AT_ONCE // max(groups, columns, 1), 1)
        for at in range(0, size if groups else 0, step):
            own = values[at : at + step]
            days = np.outer(self._eggs, own[:, EGGS]) + np.outer(self._young, own[:, YOUNG])
            sums = np.maximum(self._weights @ np.exp(-days), 0.0).T
            if self.beliefs is not None:
                sums *= found_chances(own[:, N_HAZARDS:])[:, self._end, self._found]
                logs[at : at + step] = self.beliefs.log_density(own[:, N_HAZARDS:])[0]
            whole = np.add.reduceat(sums, self._nests, axis=1)
            fledged = np.where(self._end == FLEDGED, sums, 0.0)
            with np.errstate(divide="ignore"):
                logs[at : at + step] += np.log(whole).sum(axis=1)
            chances[at : at + step] = np.divide(
                np.add.reduceat(fledged, self._nests, axis=1),
                whole,
                out=np.zeros_like(whole),
                where=whole > 0,
            )
        return logs, chances
