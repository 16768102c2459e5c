"""Logistic exposure (Shaffer 2004): daily survival as a logistic function of covariates.

An interval of t days with daily survival p is lived through with chance p**t. Where a
covariate changes within the interval, as at hatching, it is cut into parts, each with its
own p; it is lived through with the product of their chances. With one part an interval
this is Shaffer's model as published, and without covariates Johnson's likelihood.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit, log_expit

Floats = NDArray[np.float64]
_F = TypeVar("_F", float, Floats)

MAX_STEPS = 60
# The fit has settled when a step could raise the log likelihood by no more than this.
_SETTLED = 1e-13
# A logit of daily survival beyond this is a nest that never, or always, dies.
_ENDLESS = 20.0
# Hazards over an interval between which exp(hazard) - 1, and the square of its inverse, are
# numbers: with less a loss would weigh without end.
_LEAST_HAZARD, _MAX_HAZARD = 1e-150, 700.0


def interval_survival(eta: _F, days: float) -> _F:
    """The chance to live through `days` days where the logit of daily survival is `eta`.

    This is the inverse of the link ln(q**(1/t) / (1 - q**(1/t))) of Shaffer 2004, Auk
    121:526-540.

    Examples
    --------
    >>> round(float(interval_survival(0.0, 3)), 6)
    0.125
    """
    survival: _F = np.exp(days * log_expit(eta))
    return survival


def interval_survival_slope(eta: _F, days: float) -> _F:
    """The derivative of `interval_survival` by `eta`: t p**(t - 1) p (1 - p), p = logistic(eta)."""
    slope: _F = days * interval_survival(eta, days) * expit(-eta)
    return slope


@dataclass(frozen=True)
class Exposures:
    """Parts of intervals with their covariates.

    Attributes
    ----------
    lived, lived_days
        Covariates and days of every part of an interval that was survived; shapes (parts, k),
        (parts,).
    lost, lost_days
        Covariates and days of the parts of intervals with a loss.
    lost_at
        Where each of those intervals begins among its parts; shape (losses,).
    """

    lived: Floats
    lived_days: Floats
    lost: Floats
    lost_days: Floats
    lost_at: NDArray[np.int64]

    @property
    def effective_n(self) -> int:
        """Days lived through, and intervals with a loss.

        Rotella, Dinsmore & Shaffer 2004, Animal Biodiversity and Conservation 27.1:187-205
        (definition from memory).
        """
        return int(self.lived_days.sum()) + len(self.lost_at)

    def log_likelihood(self, beta: Floats) -> float:
        reach = _sums(self.lost_days * log_expit(self.lost @ beta), self.lost_at)
        with np.errstate(divide="ignore"):
            lost = np.log(-np.expm1(reach))
        return float(self.lived_days @ log_expit(self.lived @ beta) + lost.sum())

    def slope(self, beta: Floats) -> Floats:
        """The derivative of the log likelihood by each coefficient."""
        lived = self.lived.T @ (self.lived_days * expit(-(self.lived @ beta)))
        each, odds = self._lost_each(beta)
        slope: Floats = lived - each.T @ odds
        return slope

    def information(self, beta: Floats) -> Floats:
        """Minus the second derivative of the log likelihood."""
        eta = self.lived @ beta
        weight = self.lived_days * expit(eta) * expit(-eta)
        information = (self.lived * weight[:, None]).T @ self.lived
        each, odds = self._lost_each(beta)
        lost_eta = self.lost @ beta
        times = np.diff(np.r_[self.lost_at, len(self.lost)])
        weight = self.lost_days * expit(lost_eta) * expit(-lost_eta) * np.repeat(odds, times)
        information -= (self.lost * weight[:, None]).T @ self.lost
        # With q the chance to live and odds = q / (1 - q): q / (1 - q)**2 = odds (1 + odds).
        information += (each * (odds * (1 + odds))[:, None]).T @ each
        return information

    def _lost_each(self, beta: Floats) -> tuple[Floats, Floats]:
        """For each loss the derivative of ln q, q being the chance to live, and q / (1 - q)."""
        eta = self.lost @ beta
        reach = _sums(self.lost_days * log_expit(eta), self.lost_at)
        odds = 1 / np.expm1(np.clip(-reach, _LEAST_HAZARD, _MAX_HAZARD))
        each = self.lost * (self.lost_days * expit(-eta))[:, None]
        return _sums(each, self.lost_at), odds


def _sums(values: Floats, at: NDArray[np.int64]) -> Floats:
    """Sums of runs of rows that begin at the given places."""
    if len(at) == 0:
        return values[:0]
    sums: Floats = np.add.reduceat(values, at, axis=0)
    return sums


@dataclass(frozen=True)
class Optimum:
    """Coefficients of the highest likelihood, and what is known there.

    `endless` marks coefficients that the data put no bound on.
    """

    beta: Floats
    log_likelihood: float
    information: Floats
    steps: int
    settled: bool
    endless: NDArray[np.bool_]


def highest(exposures: Exposures) -> Optimum:
    """The coefficients of the highest likelihood, by Newton's steps, halved where too long.

    Covariates must be independent of each other (`independent_columns`), the first a
    constant 1, the others about 0.
    """
    k = exposures.lived.shape[1]
    beta = np.zeros(k)
    days = exposures.lived_days.sum() + exposures.lost_days.sum() / 2
    rate = np.clip(len(exposures.lost_at) / max(days, 1.0), 1e-6, 0.9)
    beta[0] = np.log((1 - rate) / rate)
    value = exposures.log_likelihood(beta)
    settled = False
    steps = 0
    while steps < MAX_STEPS and not settled:
        steps += 1
        slope = exposures.slope(beta)
        step = _step(exposures, beta, slope)
        gain = float(slope @ step) / 2
        size = 1.0
        # Halve until the likelihood rises; a step that changes nothing ends it.
        while size > 1e-10:
            tried = exposures.log_likelihood(beta + size * step)
            if tried >= value - 1e-12 * abs(value):
                break
            size /= 2
        beta, value = beta + size * step, tried
        settled = gain < _SETTLED * max(abs(value), 1.0)
    information = exposures.information(beta)
    return Optimum(beta, value, information, steps, settled, _endless(exposures, beta, information))


def _step(exposures: Exposures, beta: Floats, slope: Floats) -> Floats:
    """Newton's step; where the curve does not bend down, by the days lived through alone.

    Their curve bends down everywhere; intervals with a loss in both stages need not.
    """
    information = exposures.information(beta)
    scale = 1 / np.sqrt(np.maximum(np.diag(information), 1e-12))
    try:
        factor = np.linalg.cholesky(information * np.outer(scale, scale))
    except np.linalg.LinAlgError:
        eta = exposures.lived @ beta
        weight = exposures.lived_days * expit(eta) * expit(-eta)
        information = (exposures.lived * weight[:, None]).T @ exposures.lived
        # A little of the identity, for a covariate that only losses inform.
        information += 1e-8 * np.trace(information) * np.eye(len(beta)) / len(beta)
        return np.asarray(np.linalg.solve(information, slope), float)
    return np.asarray(scale * np.linalg.solve(factor.T, np.linalg.solve(factor, scale * slope)))


def _endless(exposures: Exposures, beta: Floats, information: Floats) -> NDArray[np.bool_]:
    """Coefficients without a finite best value: separation.

    Where the likelihood rises without end along a coefficient it becomes flat: what is
    known of it is next to nothing against what its column could inform.
    """
    everything = np.concatenate([exposures.lived, exposures.lost])
    days = np.r_[exposures.lived_days, exposures.lost_days]
    could_inform = (everything**2 * days[:, None]).sum(axis=0)
    try:
        variance = np.diag(np.linalg.inv(information))
    except np.linalg.LinAlgError:
        return np.ones(len(beta), bool)
    # exp(-14) is about 1e-6: one loss in more than a million days at best.
    known = np.where(variance > 0, 1 / np.maximum(variance, 1e-300), 0.0)
    spread = np.sqrt(could_inform / max(days.sum(), 1.0))
    flat = known < 1e-6 * could_inform
    endless: NDArray[np.bool_] = flat | (np.abs(beta) * spread > _ENDLESS)
    return endless


def independent_columns(columns: Floats) -> list[int]:
    """Positions of the columns that are not made up from those before them."""
    gram = columns.T @ columns
    scale = np.sqrt(np.maximum(np.diag(gram), 1e-300))
    gram = gram / np.outer(scale, scale)
    kept: list[int] = []
    for column in range(gram.shape[0]):
        if gram[column, column] == 0:
            continue
        if kept:
            own = gram[np.ix_(kept, kept)]
            shared = gram[kept, column]
            rest = gram[column, column] - shared @ np.linalg.solve(own, shared)
        else:
            rest = gram[column, column]
        if rest > 1e-9:
            kept.append(column)
    return kept
