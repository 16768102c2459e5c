"""Importing files into a trail: `import_file` for a file, `read_visit` for one visit."""

from layers.trail.importing.cells import RowRead
from layers.trail.importing.columns import COLUMNS, KINDS, Kind
from layers.trail.importing.job import ImportResult, import_file, import_proposal
from layers.trail.importing.visits import OBSERVED, VisitRules, read_visit

__all__ = [
    "COLUMNS",
    "KINDS",
    "OBSERVED",
    "ImportResult",
    "Kind",
    "RowRead",
    "VisitRules",
    "import_file",
    "import_proposal",
    "read_visit",
]
