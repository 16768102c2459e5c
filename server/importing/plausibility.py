"""What an import asks about the visits it adds."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from layers.nesting.guide import Guide
from layers.nesting.questions import questions_of_box
from layers.trail.importing import Ask
from layers.trail.store import Trail


def asking(trail: Trail, guide: Guide) -> Ask:
    """What asks about the visits of a box of the trail."""
    names = ("box", "hole_mm", "hole_shape", "installed_on", "removed_on")
    rows = trail.rows(f"SELECT {', '.join(names)} FROM boxes")
    boxes = {row[0]: dict(zip(names, row, strict=True)) for row in rows}

    def ask(
        box: str, visits: Sequence[Mapping[str, Any]]
    ) -> Iterator[tuple[Mapping[str, Any], str]]:
        found = questions_of_box(boxes[box], visits, guide)
        return ((row, question.text) for row, question in found)

    return ask
