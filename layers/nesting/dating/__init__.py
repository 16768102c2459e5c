"""Dating by likelihood: the days of every attempt, with honest intervals."""

from layers.nesting.dating.dates import (
    CANNOT_BE_DATED,
    DATED,
    EVENTS,
    NO_EGGS_SEEN,
    ONE_DOUBTFUL,
    AttemptDates,
    Dated,
    Dates,
    Posterior,
    date_attempts,
    known_on,
    posterior,
    redated,
)
from layers.nesting.dating.explained import contradiction, explained
from layers.nesting.dating.model import STANDARD, Model
from layers.nesting.dating.outcomes import CERTAIN, PROBABLE, fates_on, final_fates
from layers.nesting.dating.own_periods import (
    LEAST_NESTS,
    own_period_sentences,
    own_periods,
    same_earlier_nests,
)
from layers.nesting.dating.stages import stage_bar, stage_days, stages_at_visits, stages_on

__all__ = [
    "CANNOT_BE_DATED",
    "CERTAIN",
    "DATED",
    "EVENTS",
    "LEAST_NESTS",
    "NO_EGGS_SEEN",
    "ONE_DOUBTFUL",
    "PROBABLE",
    "STANDARD",
    "AttemptDates",
    "Dated",
    "Dates",
    "Model",
    "Posterior",
    "contradiction",
    "date_attempts",
    "explained",
    "fates_on",
    "final_fates",
    "known_on",
    "own_period_sentences",
    "own_periods",
    "posterior",
    "redated",
    "same_earlier_nests",
    "stage_bar",
    "stage_days",
    "stages_at_visits",
    "stages_on",
]
