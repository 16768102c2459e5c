"""A short key: which species a nest may belong to, and what to look at next."""

from layers.nesting.key.identifying import (
    Candidate,
    Identification,
    Seen,
    identify,
    region_at,
    region_of,
)
from layers.nesting.key.table import key_table
from layers.nesting.key.traits import ADULTS, FORMS, GROUNDS, MARKS, MATERIALS

__all__ = [
    "ADULTS",
    "FORMS",
    "GROUNDS",
    "MARKS",
    "MATERIALS",
    "Candidate",
    "Identification",
    "Seen",
    "identify",
    "key_table",
    "region_at",
    "region_of",
]
