"""Dating by likelihood: the days of every attempt, with honest intervals."""

from layers.nesting.dating.dates import (
    CANNOT_BE_DATED,
    DATED,
    EVENTS,
    LEFT_ONE_OUT,
    NO_EGGS_SEEN,
    AttemptDates,
    Dated,
    Dates,
    Posterior,
    date_attempts,
    known_on,
    posterior,
    redated,
)
from layers.nesting.dating.disagreement import Disagreement, disagreement
from layers.nesting.dating.explained import explained
from layers.nesting.dating.model import STANDARD, Model
from layers.nesting.dating.stages import stage_bar, stage_days, stages_at_visits, stages_on

__all__ = [
    "CANNOT_BE_DATED",
    "DATED",
    "EVENTS",
    "LEFT_ONE_OUT",
    "NO_EGGS_SEEN",
    "STANDARD",
    "AttemptDates",
    "Dated",
    "Dates",
    "Disagreement",
    "Model",
    "Posterior",
    "date_attempts",
    "disagreement",
    "explained",
    "known_on",
    "posterior",
    "redated",
    "stage_bar",
    "stage_days",
    "stages_at_visits",
    "stages_on",
]
