"""What a person decides about a file, and what was decided for it on good grounds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

Section = Literal[
    "columns", "dates", "boxes", "species", "cells", "rows", "waypoints", "places", "shapes"
]
VISIT_SECTIONS: tuple[Section, ...] = ("columns", "dates", "boxes", "species", "cells", "rows")
SECTIONS: tuple[Section, ...] = (*VISIT_SECTIONS, "waypoints", "places", "shapes")

Answers = Mapping[str, Mapping[str, str]]
"""Section -> what is in the file -> what it means; the words of `Question.options`, or others."""

LEAVE_OUT = "leave out"
"""The row or column is left out."""
AS_NOTE = "note"
"""The text of the cell goes to the visit's note, and nothing else is taken from it."""


@dataclass(frozen=True)
class Place:
    """A cell: sheet, and row and column as counted from 1."""

    sheet: str
    row: int
    column: int


@dataclass
class Decision:
    """One thing that was understood, with its grounds, for all cells alike."""

    section: Section
    item: str
    value: str
    grounds: str
    places: list[Place] = field(default_factory=list)


@dataclass
class Question:
    """One thing with two readings, for all cells alike.

    Attributes
    ----------
    options
        Answer -> what it does, in words.
    proposal
        The likeliest answer; taken only when a person says so.
    free
        Whether other answers than the options will do.
    """

    section: Section
    item: str
    text: str
    options: Mapping[str, str]
    proposal: str | None = None
    grounds: str = ""
    free: bool = False
    places: list[Place] = field(default_factory=list)

    @property
    def key(self) -> str:
        return f"{self.section}: {self.item}"


class Settled:
    """Answers put in the place of proposals; what was decided and what is open is collected."""

    def __init__(self, answers: Answers) -> None:
        self._answers = answers
        self.decisions: dict[tuple[str, str], Decision] = {}
        self.questions: dict[tuple[str, str], Question] = {}

    def answer(self, section: Section, item: str) -> str | None:
        """What the person said; None if nothing."""
        return self._answers.get(section, {}).get(item)

    def decide(
        self, section: Section, item: str, value: str, grounds: str, place: Place | None = None
    ) -> str:
        """Take a sure reading, or the person's where she has another."""
        key = (section, item)
        decision = self.decisions.get(key)
        if decision is None:
            given = self.answer(section, item)
            decision = Decision(
                section,
                item,
                value if given is None else given,
                grounds if given in (None, value) else "your answer",
            )
            self.decisions[key] = decision
        if place is not None:
            decision.places.append(place)
        return decision.value

    def ask(self, question: Question, place: Place | None = None) -> str | None:
        """The person's answer; None and an open question where there is none."""
        given = self.answer(question.section, question.item)
        if given is not None and (question.free or given in question.options):
            return self.decide(question.section, question.item, given, "your answer", place)
        held = self.questions.setdefault((question.section, question.item), question)
        if place is not None:
            held.places.append(place)
        return None
