"""Several models of survival side by side, and what one predicts."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from layers.errors import BadValue
from layers.nesting.season.covariates import Covariates
from layers.nesting.season.doubts import Doubt
from layers.nesting.season.encoding import expect_terms
from layers.nesting.season.logistic import interval_survival, interval_survival_slope
from layers.nesting.season.regression import NoFit, SurvivalFit, complete, fit_survival
from layers.nesting.season.result import NORMAL_95, Interval
from layers.nesting.season.tables import SeasonTable


@dataclass(frozen=True)
class ModelLine:
    """One model of a table. `delta` is its AICc less the best one, `weight` its Akaike weight."""

    fit: SurvivalFit
    delta: float
    weight: float


@dataclass(frozen=True)
class ModelTable:
    """Models on the same nests, the best first; `unfit` are those that gave no answer."""

    lines: tuple[ModelLine, ...]
    unfit: tuple[NoFit | SurvivalFit, ...]
    left_out: Mapping[str, int]


def compare_models(
    table: SeasonTable, covariates: Covariates, *, candidates: Sequence[Sequence[str]]
) -> ModelTable:
    """Fit every candidate to the nests of which all terms of all candidates are known.

    References
    ----------
    Burnham & Anderson 2002, Model Selection and Multimodel Inference (from memory).
    """
    everything = list(dict.fromkeys(name for terms in candidates for name in terms))
    expect_terms(everything)
    usable = complete(table, covariates, everything)
    dropped = len(table) - len(usable)
    left_out = {"a value of the models is not known": dropped} if dropped else {}
    place = np.isin(table.attempt, usable.attempt)
    values = {name: column[place] for name, column in covariates.items()}
    fits: list[tuple[float, SurvivalFit]] = []
    unfit: list[NoFit | SurvivalFit] = []
    for terms in candidates:
        fit = fit_survival(usable, values, terms=terms)
        if isinstance(fit, NoFit) or fit.aicc is None:
            unfit.append(fit)
        else:
            fits.append((fit.aicc, fit))
    fits.sort(key=lambda pair: pair[0])
    deltas = [aicc - fits[0][0] for aicc, _ in fits]
    total = sum(math.exp(-delta / 2) for delta in deltas)
    lines = tuple(
        ModelLine(fit, delta, math.exp(-delta / 2) / total)
        for delta, (_, fit) in zip(deltas, fits, strict=True)
    )
    return ModelTable(lines, tuple(unfit), left_out)


@dataclass(frozen=True)
class Prediction:
    """What a model says of nests with some values.

    Attributes
    ----------
    daily
        Daily survival with eggs and with young.
    period
        The chance to live through all days; None where `interval` is not to be had either,
        because a coefficient in it has no bound.
    nests
        How many nests the model rests on.
    """

    at: Mapping[str, str | float]
    daily: tuple[float, float]
    period: float | None
    standard_error: float | None
    interval: Interval | None
    nests: int
    warnings: tuple[Doubt, ...]


def predict(
    fit: SurvivalFit, at: Mapping[str, str | float], *, egg_days: float, young_days: float
) -> Prediction:
    """The chance of a nest with these values to live through its egg and its young days.

    Parameters
    ----------
    at
        Term -> value. A number left out is at its mean, a factor at its first level;
        the stage follows from the days.
    egg_days, young_days
        Length of each stage; 0 leaves one out.

    Raises
    ------
    BadValue
        A term that the model does not have, or a value that it cannot take.

    Notes
    -----
    The interval is that of the logarithm of the hazard over all days, so that its ends lie
    between 0 and 1 (delta method).
    """
    own = {encoder.name for encoder in fit.encoders} - {"stage"}
    for name in at:
        if name not in own:
            raise BadValue(f"one of {', '.join(sorted(own)) or 'no term'}", repr(name), column="at")
    rows = []
    for stage in ("eggs", "young"):
        values = {**at, "stage": stage}
        full = [np.ones(1)]
        for encoder in fit.encoders:
            absent = encoder.name == "stage" and stage not in encoder.levels
            full.append(encoder.one(None if absent else values.get(encoder.name)))
        rows.append(np.concatenate(full)[list(fit.columns)])
    x = np.array(rows)
    eta = x @ fit.beta
    days = np.array([egg_days, young_days], float)
    each = np.array([interval_survival(e, d) for e, d in zip(eta, days, strict=True)])
    slopes = np.array([interval_survival_slope(e, d) for e, d in zip(eta, days, strict=True)])
    daily = (float(interval_survival(eta[0], 1)), float(interval_survival(eta[1], 1)))
    uses = np.abs(x[days > 0]).sum(axis=0) > 0
    estimable = np.array([coefficient.estimable for coefficient in fit.coefficients])
    if not estimable[uses].all() or not 0 < each.prod() < 1:
        return Prediction(dict(at), daily, None, None, None, fit.nests, fit.warnings)
    period = float(each.prod())
    gradient = (slopes / each * period) @ x
    error = math.sqrt(float(gradient @ fit.covariance @ gradient))
    hazard = -math.log(period)
    reach = math.exp(NORMAL_95 * error / (period * hazard))
    interval = Interval(
        math.exp(-hazard * reach), math.exp(-hazard / reach), "log hazard, delta method"
    )
    return Prediction(dict(at), daily, period, error, interval, fit.nests, fit.warnings)
