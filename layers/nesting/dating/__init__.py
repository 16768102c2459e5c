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
    posterior,
    redated,
)
from layers.nesting.dating.disagreement import Disagreement, disagreement
from layers.nesting.dating.explained import explained
from layers.nesting.dating.model import STANDARD, Model

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
    "posterior",
    "redated",
]
