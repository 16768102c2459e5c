"""What is compiled in this room."""

from __future__ import annotations

from pathlib import Path

from layers.compiled import Compiler

compiled = Compiler(
    Path(__file__).parent,
    (
        "distances.py",
        "round/choosing.py",
        "round/columns.py",
        "round/halves.py",
        "round/natural.py",
        "round/single.py",
        "round/tour.py",
    ),
)
