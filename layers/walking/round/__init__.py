"""The round: which boxes, in what order, over which paths, and how long it takes."""

from layers.walking.round.plan import plan
from layers.walking.round.problem import Call, Problem, Progress, Stopping
from layers.walking.round.result import LeftOut, Leg, Proof, Round, Stop, Walk

__all__ = [
    "Call",
    "LeftOut",
    "Leg",
    "Problem",
    "Progress",
    "Proof",
    "Round",
    "Stop",
    "Stopping",
    "Walk",
    "plan",
]
