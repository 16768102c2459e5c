"""How the files of visits are read: cells right, wrong and missing, and questions."""

from __future__ import annotations

import statistics
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from layers.nesting.guide import standard_guide
from layers.trail.importing.proposing import Known, Proposal, propose, read_grids
from layers.trail.importing.proposing.answers import Answers
from layers.trail.importing.proposing.recipe import lasting
from tests.trail.importing.corpus.files import Made
from tests.trail.importing.corpus.stories import BOXES, TODAY

KNOWN = Known(
    boxes=frozenset(BOXES),
    species={one.common: one.names for one in standard_guide().species},
    today=TODAY,
)
Cell = tuple[str, str, str]


def proposed(path: Path, answers: Answers) -> Proposal:
    return propose(read_grids(path), known=KNOWN, answers=answers, file=path.name)


def read(proposal: Proposal) -> list[dict[str, Any]]:
    """What would be added."""
    return [dict(one.values) for one in proposal.records if not one.open and one.unread is None]


def cells(made: list[dict[str, Any]]) -> dict[Cell, str]:
    """Box, day and column -> value."""
    found = {}
    for row in made:
        for name, value in row.items():
            found[row["box"], str(row["date"]), name] = str(value)
    return found


@dataclass(frozen=True)
class Reading:
    """One file read without answers, with them, and the next of its layout by what lasts."""

    made: Made
    unedited: Proposal
    edited: Proposal
    later: Proposal


def read_all(files: Iterable[tuple[Made, Made]], folder: Path) -> Iterator[Reading]:
    """Every file, and the one of the same layout that comes a year later."""
    for first, second in files:
        path = first.write(folder)
        sheets = read_grids(path)
        one, two = (
            propose(sheets, known=KNOWN, answers=answers, file=path.name)
            for answers in ({}, first.answers)
        )
        yield Reading(first, one, two, proposed(second.write(folder), lasting(first.answers)))


@dataclass(frozen=True)
class Figures:
    """Counts over many files; `wrong` and `missing` name each cell."""

    files: int
    cells: int
    right: int
    right_with_answers: int
    wrong: tuple[str, ...]
    missing: tuple[str, ...]
    questions: tuple[int, ...]
    asked_again: tuple[str, ...]

    def __str__(self) -> str:
        return (
            f"{self.files} files, {self.cells:,} cells: right {self.right / self.cells:.2%} with an"
            f" unedited recipe, {self.right_with_answers / self.cells:.2%} with answers,"
            f" {len(self.wrong)} wrong; questions a file: median"
            f" {statistics.median(self.questions):g}, most {max(self.questions)};"
            f" {len(self.asked_again)} questions in the second file of a layout"
        )


def figures_of(readings: Iterable[Reading]) -> Figures:
    """The counts."""
    wrong, missing, questions, again = [], [], [], []
    whole = right = answered = files = 0
    for one in readings:
        files += 1
        true = cells(one.made.truth)
        whole += len(true)
        for proposal in (one.unedited, one.edited):
            wrong += [
                f"{one.made.name}: {key} read as {value!r}, is {true.get(key)!r}"
                for key, value in cells(read(proposal)).items()
                if true.get(key) != value
            ]
        right += len(true.items() & cells(read(one.unedited)).items())
        with_answers = cells(read(one.edited))
        answered += len(true.items() & with_answers.items())
        missing += [f"{one.made.name}: {key}" for key in true.keys() - with_answers.keys()]
        questions.append(len(one.unedited.questions))
        again += [f"{one.made.name}: {asked.key}" for asked in one.later.questions]
        again += [f"{one.made.name}: {asked.key} once answered" for asked in one.edited.questions]
    return Figures(
        files=files,
        cells=whole,
        right=right,
        right_with_answers=answered,
        wrong=tuple(wrong),
        missing=tuple(missing),
        questions=tuple(questions),
        asked_again=tuple(again),
    )
