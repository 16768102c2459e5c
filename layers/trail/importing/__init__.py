"""Importing files into a trail: `import_file` for a file, `read_visit` for one visit.

Names are loaded when they are used: the processes that read foreign files import parts of
this package, and start in a tenth of a second without the rest.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from layers.trail.importing.cells import RowRead
    from layers.trail.importing.columns import COLUMNS, KINDS, Kind
    from layers.trail.importing.job import ImportResult, import_file, import_proposal
    from layers.trail.importing.visit_intake import Ask
    from layers.trail.importing.visits import OBSERVED, VisitRules, read_visit

_MODULES = {
    "cells": ("RowRead",),
    "columns": ("COLUMNS", "KINDS", "Kind"),
    "job": ("ImportResult", "import_file", "import_proposal"),
    "visit_intake": ("Ask",),
    "visits": ("OBSERVED", "VisitRules", "read_visit"),
}

__all__ = [
    "COLUMNS",
    "KINDS",
    "OBSERVED",
    "Ask",
    "ImportResult",
    "Kind",
    "RowRead",
    "VisitRules",
    "import_file",
    "import_proposal",
    "read_visit",
]


def __getattr__(name: str) -> Any:
    for module, names in _MODULES.items():
        if name in names:
            return getattr(import_module(f"{__name__}.{module}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
