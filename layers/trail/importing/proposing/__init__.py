"""Tables as people keep them: what they seem to say, on what grounds, and what is open."""

from layers.trail.importing.proposing.answers import Answers, Decision, Question
from layers.trail.importing.proposing.grids import Grid, read_grids
from layers.trail.importing.proposing.proposal import Known, Proposal, propose
from layers.trail.importing.proposing.rows import Record

__all__ = [
    "Answers",
    "Decision",
    "Grid",
    "Known",
    "Proposal",
    "Question",
    "Record",
    "propose",
    "read_grids",
]
