"""What an import asks about the visits it adds."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from layers.nesting.guide import Guide
from layers.nesting.histories import read_histories
from layers.nesting.questions import questions_of_box
from layers.trail.coding import code_visits
from layers.trail.importing import Ask
from layers.trail.store import Trail
from server.live.contents import Contents


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


class NestsMade:
    """Counts the nests that new visits make, while they are looked through for questions."""

    def __init__(self, contents: Contents, ask: Ask) -> None:
        self._contents = contents
        self._ask = ask
        self.count = 0

    def __call__(
        self, box: str, visits: Sequence[Mapping[str, Any]]
    ) -> Iterable[tuple[Mapping[str, Any], str]]:
        settings = self._contents.settings
        coded = code_visits(
            visits,
            boxes=(box,),
            timezone=settings.zone,
            signs_words=settings.words("signs"),
            actions_words=settings.words("actions"),
        )
        guide, starts = self._contents.guide, settings.season_starts
        after = read_histories(coded, guide, season_starts=starts)
        self.count += max(len(after) - len(self._contents.histories.attempts_of(box)), 0)
        return self._ask(box, visits)
