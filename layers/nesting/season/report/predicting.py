"""What the models predict for nests with given values: their survival, with intervals."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layers.nesting.season.covariates import TERMS, Covariates
from layers.nesting.season.models import ModelTable, predict
from layers.nesting.season.periods import Periods
from layers.nesting.season.regression import ABOUT, LOSSES_A_COEFFICIENT, SurvivalFit, complete
from layers.nesting.season.report.facts import Predicted, Predictions
from layers.nesting.season.report.groupings import COMPASS, facing
from layers.nesting.season.result import Quantity
from layers.nesting.season.tables import SeasonTable
from layers.trail.measures import format_height, format_mm

BY_MODEL = Quantity(
    "nest success by the model",
    "share",
    "nests watched",
    replace(
        ABOUT,
        method=f"{ABOUT.method}; the chance over all days of both stages from the fitted daily "
        "rates, interval of its log hazard by the delta method",
    ),
    "",
)

# A number that takes more values than this is shown at three of them.
_MAX_VALUES = 6
_SHARES = (0.1, 0.5, 0.9)


def predictions(
    models: ModelTable,
    table: SeasonTable,
    covariates: Covariates,
    *,
    lengths: Periods | None,
    units: str,
) -> tuple[Predictions, ...]:
    """For each model of the stage and one term more: survival at the values of that term.

    In the order of the models, the best first. What changes while a nest lasts, such as the
    date, has no value that holds for a whole nest and is left out.

    Parameters
    ----------
    table, covariates
        What the models were fitted to.
    lengths
        Over which days a nest has to survive; None = not known, so nothing is predicted.
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


def _values(name: str, given: NDArray[Any]) -> dict[Any, int]:
    """The values to predict at, and how many nests have each."""
    if TERMS[name].kind == "circle":
        quarters = Counter(facing(degrees) for degrees in given.tolist())
        return {90.0 * at: quarters[quarter] for at, quarter in enumerate(COMPASS)}
    numbers = Counter(given.tolist())
    values = sorted(numbers)
    if TERMS[name].kind != "factor" and len(values) > _MAX_VALUES:
        values = np.quantile(given.astype(float), _SHARES, method="nearest").tolist()
    return {value: numbers[value] for value in values}


def _label(name: str, value: Any, units: str) -> str:
    if name == "hole":
        return format_mm(value, units)
    if name == "height":
        return format_height(value, units)
    if name == "facing":
        return facing(value)
    if name == "box age":
        return f"{value:.1f} years"
    return f"{value:.0f}" if isinstance(value, float) else str(value)


def _each(
    fit: SurvivalFit, name: str, given: NDArray[Any], lengths: Periods, units: str
) -> Iterator[Predicted]:
    days = {"egg_days": lengths.eggs.days, "young_days": lengths.young.days}
    for value, nests in _values(name, given).items():
        found = predict(fit, {name: value}, **days)
        with_eggs, with_young = found.daily if found.period is not None else (None, None)
        success = BY_MODEL.measured(
            found.period,
            interval=found.interval,
            standard_error=found.standard_error,
            n=nests,
            warnings=found.warnings,
        )
        yield Predicted(_label(name, value, units), with_eggs, with_young, success)
