"""What the models say of nests with stated values: their survival, with intervals."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from layers.nesting.season.covariates import TERMS, Covariates
from layers.nesting.season.models import ModelTable, Prediction, predict
from layers.nesting.season.periods import Periods
from layers.nesting.season.regression import (
    ABOUT,
    LOSSES_A_COEFFICIENT,
    SurvivalFit,
    complete,
)
from layers.nesting.season.report.facts import Predicted, Predictions
from layers.nesting.season.result import Measure
from layers.nesting.season.tables import SeasonTable
from layers.trail.measures import said_mm

PREDICTED_ABOUT = replace(
    ABOUT,
    method=f"{ABOUT.method}; the chance over all days of both stages from the fitted daily rates, "
    "interval of its log hazard by the delta method",
)

# A number that takes more values than this is told at three of them.
_MOST_VALUES = 6
_SHARES = (0.1, 0.5, 0.9)


def predictions(
    models: ModelTable,
    table: SeasonTable,
    covariates: Covariates,
    *,
    lengths: Periods | None,
    units: str,
) -> tuple[Predictions, ...]:
    """For each model of the stage and one thing more: survival at the values of that thing.

    In the order of the models, the best first. Things that change while a nest lasts, such
    as the date, have no value that holds for a whole nest and are left out.

    Parameters
    ----------
    table, covariates
        What the models were fitted to.
    lengths
        Over which days a nest has to live; None = no nest tells, so nothing is predicted.
    units
        To name lengths in.
    """
    if lengths is None:
        return ()
    held = {name for line in models.lines for name in line.fit.terms}
    usable = complete(table, covariates, sorted(held))
    watched = np.isin(table.attempt, usable.attempt[np.unique(usable.intervals.nest)])
    found = []
    for line in models.lines:
        own = [name for name in line.fit.terms if name != "stage"]
        if len(own) == 1 and not TERMS[own[0]].of_part:
            given = covariates[TERMS[own[0]].column][watched]
            each = tuple(_each(line.fit, own[0], given, lengths, units))
            enough = line.fit.losses >= LOSSES_A_COEFFICIENT * len(line.fit.coefficients)
            found.append(Predictions(own[0], line.fit.nests, line.fit.losses, enough, each))
    return tuple(found)


def _each(
    fit: SurvivalFit, name: str, given: NDArray[np.object_], lengths: Periods, units: str
) -> Iterator[Predicted]:
    numbers = Counter(given.tolist())
    values = sorted(numbers)
    if TERMS[name].kind != "factor" and len(values) > _MOST_VALUES:
        values = np.quantile(given.astype(float), _SHARES, method="nearest").tolist()
    for value in values:
        found = predict(
            fit, {name: value}, egg_days=lengths.eggs.days, young_days=lengths.young.days
        )
        label = said_mm(value, units) if name == "hole" else str(value)
        with_eggs, with_young = found.daily if found.period is not None else (None, None)
        yield Predicted(label, with_eggs, with_young, _measure(found, numbers[value]))


def _measure(found: Prediction, nests: int) -> Measure:
    return Measure(
        name="nest success by the model",
        unit="share",
        estimate=found.period,
        interval=found.interval,
        standard_error=found.standard_error,
        n=nests,
        counted="nests watched",
        about=PREDICTED_ABOUT,
        warnings=found.warnings,
    )
