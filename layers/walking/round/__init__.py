"""The round: which boxes, in what order, over which paths, and how long it takes."""

from layers.walking.round.plan import plan
from layers.walking.round.problem import RoundProblem, StopRequest
from layers.walking.round.result import LeftOut, Leg, Proof, Round, Stop, Walk

__all__ = [
    "LeftOut",
    "Leg",
    "Proof",
    "Round",
    "RoundProblem",
    "Stop",
    "StopRequest",
    "Walk",
    "plan",
]
