"""What is compiled in this room; plans run in threads, so it lets go of Python's lock."""

from __future__ import annotations

from pathlib import Path

from layers.compiled import Compiler

compiled = Compiler(
    Path(__file__).parent,
    ("round/directed.py", "round/tour.py", "trees.py"),
    nogil=True,
)
