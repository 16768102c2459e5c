"""What each box needs before the next season, and why a box may stay unused."""

from layers.nesting.winter.jobs import JOBS, Job
from layers.nesting.winter.listing import CAUTIONS, ROUTINE, Winter, winter_list
from layers.nesting.winter.record import Neighbour
from layers.nesting.winter.unused import Evidence, Unused

__all__ = [
    "CAUTIONS",
    "JOBS",
    "ROUTINE",
    "Evidence",
    "Job",
    "Neighbour",
    "Unused",
    "Winter",
    "winter_list",
]
