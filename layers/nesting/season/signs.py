"""The chances with which observers write down signs of how a nest ended.

Of the nests that end in one way, a share has a sign written down; of these signs a small share is
wrong. Both are estimated with the rates of loss. A sign that is missing so counts for what the
trail's own habit makes it worth: nothing where signs are never written, much where they always are.

What only a loss leaves (cold eggs, all young dead) is no sign that a keeper chose to write: some
losses leave it, and signs are written of the others. Counted as written signs of lost eggs, cold
eggs made every sign of a loss speak for eggs, and losses of young were put down to eggs (0.1 points
a day in simulated seasons).

References
----------
Etterson & Stanley 2008, Auk 125:687-699 (fates classified wrongly as part of the likelihood; from
memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layers.nesting.season.courses import (
    NO_SIGN,
    NO_SIGN_POSSIBLE,
    SIGNS_OF_LEAVING,
    SIGNS_OF_LOSS,
    SURE_LOSS,
)
from layers.nesting.season.filling import FLEDGED, LOST_EGGS, LOST_YOUNG, N_ENDS

Floats = NDArray[np.float64]

N_FOUND = 5
WRONG = N_ENDS
_SURE = {LOST_YOUNG: N_ENDS + 1, LOST_EGGS: N_ENDS + 2}
N_SIGN_RATES = N_ENDS + 1 + len(_SURE)
"""A rate of writing for each end, the share of signs that are wrong, and the shares of lost broods
and of lost clutches that leave what cannot be wrong: all on the logit."""

# Beliefs before any visit, on the logit: about 0.7 % of written signs are wrong, within wide bounds
# (0.04 to 11 %). A fixed share biased success by up to 3 points in simulated seasons, an estimated
# one by less than 1.
WRONG_MEAN, WRONG_SD = -5.0, 1.5
# Each rate of writing is near that of the trail over all ends, and the two of losses are nearer to
# each other (correlation; our own choices, no source). Held near by a standard deviation of 1.5,
# the few losses of a season seemed to be written down as often as its many fledglings: 1 % too many
# young in simulated seasons. Alike by 0.9, the signs of six lost clutches made twenty broods that
# were gone without a sign all but sure to have fledged.
RATE_SD, ALIKE = 2.5, 0.5


@dataclass(frozen=True)
class SignChances:
    """Chances of what is found, with their logarithms' derivatives by the logit rates.

    Attributes
    ----------
    chance
        Shape (N_ENDS, N_FOUND).
    slope, curve
        First and second derivative of log chance by each rate; shape (N_ENDS, N_FOUND,
        N_SIGN_RATES). The mixed second derivatives are 0.
    """

    chance: Floats
    slope: Floats
    curve: Floats


def _cells(*cells: tuple[int, int]) -> Floats:
    found = np.zeros((N_ENDS, N_FOUND))
    for end, sign in cells:
        found[end, sign] = 1.0
    return found


_LOST = (LOST_YOUNG, LOST_EGGS)
_RIGHT = _cells(
    (FLEDGED, SIGNS_OF_LEAVING),
    *((end, SIGNS_OF_LOSS) for end in _LOST),
)
_MISTAKEN = _cells((FLEDGED, SIGNS_OF_LOSS), *((end, SIGNS_OF_LEAVING) for end in _LOST))
_WRITTEN = _RIGHT + _MISTAKEN
_NONE = _cells(*((end, NO_SIGN) for end in (FLEDGED, *_LOST)))
_LEFT_SURE = _cells(*((end, SURE_LOSS) for end in _LOST))
_UNSEEN = _cells(*((end, NO_SIGN_POSSIBLE) for end in (FLEDGED, *_LOST)))

_NEVER = 700.0
"""A logit as far below 0 as a number holds: exp(700) is 1e304."""


def _shares(rates: Floats) -> Floats:
    """From the logit; a search may pass through rates that are as good as never."""
    shares: Floats = 1 / (1 + np.exp(np.minimum(-rates, _NEVER)))
    return shares


def found_chances(rates: Floats) -> Floats:
    """The chance of each finding after each end; shape (..., N_ENDS, N_FOUND).

    Finding `NO_SIGN_POSSIBLE` has the chance 1.

    Parameters
    ----------
    rates
        Shape (..., N_SIGN_RATES).
    """
    shares = _shares(rates)
    rate, wrong = shares[..., :N_ENDS, None], shares[..., WRONG, None, None]
    sure = np.zeros_like(rate)
    for end, column in _SURE.items():
        sure[..., end, 0] = shares[..., column]
    written = rate * (_RIGHT * (1 - wrong) + _MISTAKEN * wrong) + _NONE * (1 - rate)
    return np.asarray(written * (1 - sure) + _LEFT_SURE * sure + _UNSEEN)


def sign_chances(rates: Floats) -> SignChances:
    """`found_chances` of one set of rates, with the derivatives of their logarithms."""
    shares = _shares(rates)
    rate, wrong = shares[:N_ENDS, None], shares[WRONG]
    slope = np.zeros((N_ENDS, N_FOUND, N_SIGN_RATES))
    curve = np.zeros_like(slope)
    own = np.arange(N_ENDS)
    slope[own, :, own] = _WRITTEN * (1 - rate) - _NONE * rate
    curve[own, :, own] = -(_WRITTEN + _NONE) * rate * (1 - rate)
    slope[:, :, WRONG] = _MISTAKEN * (1 - wrong) - _RIGHT * wrong
    curve[:, :, WRONG] = -_WRITTEN * wrong * (1 - wrong)
    for end, column in _SURE.items():
        sure = shares[column]
        slope[end, :, column] = (_LEFT_SURE * (1 - sure) - (_WRITTEN + _NONE) * sure)[end]
        curve[end, :, column] = -(_LEFT_SURE + _WRITTEN + _NONE)[end] * sure * (1 - sure)
    return SignChances(found_chances(rates), slope, curve)


@dataclass(frozen=True)
class SignBeliefs:
    """What is expected of the logit rates before any visit: normal, with the inverse of their
    covariance.
    """

    mean: Floats
    precision: Floats

    def log_density(self, rates: Floats) -> tuple[Floats, Floats, Floats]:
        """Of sets of rates, shape (..., N_SIGN_RATES), up to a constant; with its first derivatives
        and the matrix of second ones.
        """
        off = rates - self.mean
        slope = -off @ self.precision
        return np.asarray((off * slope).sum(axis=-1) / 2), slope, -self.precision


def sign_beliefs(found: NDArray[np.int64]) -> SignBeliefs | None:
    """Beliefs for a trail whose nests were found so; None where no end left a trace."""
    looked = found[np.isin(found, (SIGNS_OF_LEAVING, SIGNS_OF_LOSS, NO_SIGN, SURE_LOSS))]
    sure = looked == SURE_LOSS
    written = ~sure & (looked != NO_SIGN)
    if not (sure | written).any():
        return None
    mean = np.full(N_SIGN_RATES, _logit(written.sum(), len(looked) - sure.sum()))
    covariance = np.diag(np.full(N_SIGN_RATES, RATE_SD**2))
    covariance[LOST_YOUNG, LOST_EGGS] = covariance[LOST_EGGS, LOST_YOUNG] = ALIKE * RATE_SD**2
    mean[WRONG], covariance[WRONG, WRONG] = WRONG_MEAN, WRONG_SD**2
    mean[list(_SURE.values())] = _logit(sure.sum(), len(looked))
    return SignBeliefs(mean, np.linalg.inv(covariance))


def _logit(some: int, of: int) -> float:
    """Half a nest more of each kind keeps it finite."""
    return math.log((some + 0.5) / (of - some + 0.5))
