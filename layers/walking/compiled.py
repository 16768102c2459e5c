"""The compiled modules of walking. Plans run in threads, so they release Python's lock."""

from __future__ import annotations

from pathlib import Path

from layers.compiled import Compiler

compiled = Compiler(
    Path(__file__).parent,
    (
        "distances.py",
        "round/choosing.py",
        "round/columns.py",
        "round/natural.py",
        "round/single.py",
        "round/tour.py",
    ),
    nogil=True,
)
