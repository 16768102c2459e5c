"""Bringing foreign files into a trail: `bring` for a file, `read_visit` for one visit."""

from layers.trail.bring.cells import RowRead
from layers.trail.bring.job import Brought, bring
from layers.trail.bring.kinds import KINDS, Kind
from layers.trail.bring.visit_row import read_visit
from layers.trail.bring.visit_rules import VisitRules

__all__ = ["KINDS", "Brought", "Kind", "RowRead", "VisitRules", "bring", "read_visit"]
