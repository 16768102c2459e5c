"""The season in numbers: one table of attempts, and measures of it.

`season_table` makes the table from histories; every measure takes it and gives a frozen
result with its estimate, interval, n, warnings and method. Nothing here reads a file or
a clock.
"""

from layers.nesting.season.apparent import apparent_success
from layers.nesting.season.box_results import BoxResult, box_results
from layers.nesting.season.box_use import BoxUse, box_use
from layers.nesting.season.clutches import (
    brood_size,
    clutch_size,
    fledged_per_attempt,
    fledged_per_box,
    hatching_success,
)
from layers.nesting.season.comparison import Comparison, compare_groups
from layers.nesting.season.covariates import TERMS, nest_covariates
from layers.nesting.season.exposure import season_table
from layers.nesting.season.likelihood import likelihood_survival, nest_success
from layers.nesting.season.losses import GroupLosses, Losses, losses_by
from layers.nesting.season.mayfield import mayfield
from layers.nesting.season.models import ModelTable, Prediction, compare_models, predict
from layers.nesting.season.periods import Periods, period_survival, periods
from layers.nesting.season.phenology import FirstEggs, broods, first_eggs
from layers.nesting.season.regression import NoFit, SurvivalFit, fit_survival, likelihood_ratio
from layers.nesting.season.result import About, Interval, Measure
from layers.nesting.season.tables import SeasonTable
from layers.nesting.season.trend import trend
from layers.nesting.season.which import (
    LeftOut,
    for_brood,
    for_clutch,
    for_fledged,
    for_hatching,
    for_success,
    for_survival,
)

__all__ = [
    "TERMS",
    "About",
    "BoxResult",
    "BoxUse",
    "Comparison",
    "FirstEggs",
    "GroupLosses",
    "Interval",
    "LeftOut",
    "Losses",
    "Measure",
    "ModelTable",
    "NoFit",
    "Periods",
    "Prediction",
    "SeasonTable",
    "SurvivalFit",
    "apparent_success",
    "box_results",
    "box_use",
    "brood_size",
    "broods",
    "clutch_size",
    "compare_groups",
    "compare_models",
    "first_eggs",
    "fit_survival",
    "fledged_per_attempt",
    "fledged_per_box",
    "for_brood",
    "for_clutch",
    "for_fledged",
    "for_hatching",
    "for_success",
    "for_survival",
    "hatching_success",
    "likelihood_ratio",
    "likelihood_survival",
    "losses_by",
    "mayfield",
    "nest_covariates",
    "nest_success",
    "period_survival",
    "periods",
    "predict",
    "season_table",
    "trend",
]
