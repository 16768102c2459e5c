"""Fits of the logistic-exposure model, their table, and what they predict."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layers.nesting import attempt_columns as c
from layers.nesting.season.apparent import ENOUGH_NESTS
from layers.nesting.season.covariates import TERMS, Covariates, Parts, parts_of
from layers.nesting.season.doubts import (
    Aliased,
    Doubt,
    FewLosses,
    NoData,
    NotConverged,
    Separation,
    few,
    format_cases,
)
from layers.nesting.season.encoding import Encoder, encoder, expect_terms, known
from layers.nesting.season.logistic import Exposures, Optimum, highest, independent_columns
from layers.nesting.season.result import NORMAL_95, About
from layers.nesting.season.tables import SeasonTable

Floats = NDArray[np.float64]

CONSTANT = "constant"

# Losses for each coefficient below which estimates run wild (Peduzzi et al. 1996, Journal of
# Clinical Epidemiology 49:1373-1379, from memory).
LOSSES_A_COEFFICIENT = 10

ABOUT = About(
    method=(
        "logistic exposure: the logit of daily survival is linear in the terms; maximum "
        "likelihood, intervals by the standard error of the coefficients"
    ),
    assumptions=(
        "Nests with the same values have the same chance to live through a day.",
        "The logit of daily survival follows numbers in a straight line.",
        "Nests are independent of each other.",
        "The visits saw rightly whether the nest was alive.",
    ),
    not_when=(
        "Losses are few: less than ten for each coefficient.",
        "Values were chosen after looking at the outcome.",
    ),
    reference=(
        "Shaffer 2004, Auk 121:526-540; Shaffer & Thompson 2007, Studies in Avian Biology 34:84-95"
    ),
)


@dataclass(frozen=True)
class Coefficient:
    """One coefficient on the logit scale.

    `estimable` is False where the data put no bound on it: its numbers then mean nothing.
    `p_value` is None where there is no standard error.
    """

    name: str
    estimate: float
    standard_error: float
    low: float
    high: float
    p_value: float | None
    estimable: bool


@dataclass(frozen=True)
class SurvivalFit:
    """A fitted model.

    Attributes
    ----------
    coefficients
        The constant first. Numbers are held against their mean, factors against their
        first level.
    aicc, effective_n
        Akaike's criterion for small samples, and the sample it goes by: days survived plus
        intervals with a loss. None where there are too few for so many coefficients.
    nests, intervals, losses, boxes
        What the fit rests on.
    left_out
        Reason -> attempts left out.
    covariance, encoders
        For predictions: of the coefficients, and how terms become columns.
    """

    terms: tuple[str, ...]
    coefficients: tuple[Coefficient, ...]
    log_likelihood: float
    aicc: float | None
    effective_n: int
    nests: int
    intervals: int
    losses: int
    boxes: int
    warnings: tuple[Doubt, ...]
    left_out: Mapping[str, int]
    about: About = field(repr=False)
    covariance: Floats = field(repr=False, compare=False)
    encoders: tuple[Encoder, ...] = field(repr=False)
    columns: tuple[int, ...] = field(repr=False)

    @property
    def beta(self) -> Floats:
        return np.array([one.estimate for one in self.coefficients])


@dataclass(frozen=True)
class NoFit:
    """A model that the data cannot be fitted with; `warnings` says why."""

    terms: tuple[str, ...]
    nests: int
    losses: int
    warnings: tuple[NoData, ...]
    left_out: Mapping[str, int]

    def sentence(self) -> str:
        """Why, in words."""
        why = " and ".join(f"no {doubt.wanted}" for doubt in self.warnings)
        seen = f"{format_cases(self.nests, 'nests')}, {format_cases(self.losses, 'losses')}"
        return f"No model: there is {why} ({seen})."


def complete(table: SeasonTable, covariates: Covariates, terms: Sequence[str]) -> SeasonTable:
    """The attempts of which every term is known."""
    return table.take(_complete(table, covariates, terms))


def _complete(
    table: SeasonTable, covariates: Covariates, terms: Sequence[str]
) -> NDArray[np.bool_]:
    keep = np.ones(len(table), bool)
    for name in terms:
        if name == "nest age":
            keep &= table.first_egg != c.MISSING
        elif not TERMS[name].of_part:
            keep &= known(covariates[TERMS[name].column])
    return keep


def fit_survival(
    table: SeasonTable, covariates: Covariates, *, terms: Sequence[str]
) -> SurvivalFit | NoFit:
    """Fit daily survival to some terms of `TERMS`; none of them gives one rate for all.

    Parameters
    ----------
    covariates
        Values of each attempt of the table: see `nest_covariates`.

    Raises
    ------
    BadValue
        A term of no such name.
    """
    expect_terms(terms)
    keep = _complete(table, covariates, terms)
    table = table.take(keep)
    # A box without a hole's width, say: its nests are left out, and counted.
    left_out = {"a value of the model is not known": int(np.sum(~keep))} if not keep.all() else {}
    parts = parts_of(table)
    lost = table.intervals.lost
    nests, losses = len(np.unique(table.intervals.nest)), int(lost.sum())
    if losses == 0 or lost.all():
        wanted = "interval that was survived" if losses else "nest that was lost"
        missing = "nest that was watched" if nests == 0 else wanted
        return NoFit(tuple(terms), nests, losses, (NoData(missing),), left_out)
    encoders = tuple(encoder(name, _values(name, parts, covariates, keep)) for name in terms)
    columns = np.column_stack(
        [
            np.ones(len(parts.days)),
            *(e.columns(_values(e.name, parts, covariates, keep)) for e in encoders),
        ]
    )
    names = (CONSTANT, *(label for e in encoders for label in e.labels))
    kept = independent_columns(columns)
    warnings: list[Doubt] = [Aliased(names[i]) for i in range(len(names)) if i not in kept]
    exposures = _exposures(table, parts, columns[:, kept])
    best = highest(exposures)
    if not best.settled:
        warnings.append(NotConverged(best.steps))
    kept_names = [names[i] for i in kept]
    warnings += [
        Separation(name)
        for name, endless in zip(kept_names, best.endless, strict=True)
        if endless and name != CONSTANT
    ]
    boxes = len(np.unique(table.rows[np.unique(table.intervals.nest), c.BOX]))
    warnings += few(nests, ENOUGH_NESTS, "nests watched")
    if losses < LOSSES_A_COEFFICIENT * len(kept):
        warnings.append(FewLosses(losses, len(kept)))
    covariance = np.asarray(np.linalg.pinv(best.information, hermitian=True), float)
    return SurvivalFit(
        terms=tuple(terms),
        coefficients=_coefficients(kept_names, best, covariance),
        log_likelihood=best.log_likelihood,
        aicc=_aicc(best.log_likelihood, len(kept), exposures.effective_n),
        effective_n=exposures.effective_n,
        nests=nests,
        intervals=len(table.intervals),
        losses=losses,
        boxes=boxes,
        warnings=tuple(warnings),
        left_out=left_out,
        about=ABOUT,
        covariance=covariance,
        encoders=encoders,
        columns=tuple(kept),
    )


def _values(
    name: str, parts: Parts, covariates: Covariates, keep: NDArray[np.bool_]
) -> NDArray[Any]:
    term = TERMS[name]
    if term.of_part:
        return parts.values[term.column]
    return covariates[term.column][keep][parts.nest]


def _exposures(table: SeasonTable, parts: Parts, columns: Floats) -> Exposures:
    lost = table.intervals.lost[parts.interval]
    _, lost_at = np.unique(parts.interval[lost], return_index=True)
    return Exposures(
        lived=columns[~lost],
        lived_days=parts.days[~lost],
        lost=columns[lost],
        lost_days=parts.days[lost],
        lost_at=lost_at.astype(np.int64),
    )


def _coefficients(
    names: Sequence[str], best: Optimum, covariance: Floats
) -> tuple[Coefficient, ...]:
    found = []
    for name, value, variance, endless in zip(
        names, best.beta, np.diag(covariance), best.endless, strict=True
    ):
        error = math.sqrt(max(variance, 0.0))
        p_value = math.erfc(abs(value) / error / math.sqrt(2)) if error > 0 else None
        found.append(
            Coefficient(
                name,
                float(value),
                error,
                float(value - NORMAL_95 * error),
                float(value + NORMAL_95 * error),
                p_value,
                not endless,
            )
        )
    return tuple(found)


def _aicc(log_likelihood: float, k: int, effective_n: int) -> float | None:
    spare = effective_n - k - 1
    return -2 * log_likelihood + 2 * k + 2 * k * (k + 1) / spare if spare > 0 else None
