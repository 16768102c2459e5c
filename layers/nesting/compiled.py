"""What is compiled in this room."""

from __future__ import annotations

from pathlib import Path

from layers.compiled import Compiler

compiled = Compiler(
    Path(__file__).parent,
    (
        "attempt_columns.py",
        "dating/laying.py",
        "dating/looks.py",
        "dating/model.py",
        "dating/summing.py",
        "dating/terms.py",
        "dating/weighing.py",
        "reading/apply_visit.py",
        "reading/attempts.py",
        "reading/fates.py",
        "reading/following.py",
        "season/filling.py",
        "timeline.py",
    ),
)
