"""A short key: which species a nest may belong to, and what to look at next."""

from layers.nesting.key.telling import Answer, Candidate, Seen, region_of, tell
from layers.nesting.key.traits import GROUNDS, MARKS, MATERIALS

__all__ = ["GROUNDS", "MARKS", "MATERIALS", "Answer", "Candidate", "Seen", "region_of", "tell"]
