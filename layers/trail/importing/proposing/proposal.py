"""From the sheets of a file to the visits they seem to hold; nothing in doubt is taken."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from layers.trail.importing.proposing.answers import Answers, Decision, Place, Question, Settled
from layers.trail.importing.proposing.columns import settle_columns
from layers.trail.importing.proposing.grids import Sheets
from layers.trail.importing.proposing.matching import BoxIds, SpeciesNames
from layers.trail.importing.proposing.order import DayReader
from layers.trail.importing.proposing.rows import Record, RowReader
from layers.trail.importing.proposing.tables import find_tables


@dataclass(frozen=True)
class Known:
    """What is known of the trail.

    Attributes
    ----------
    boxes
        Ids of its boxes.
    species
        Names of the guide: common name -> all its names.
    met
        Species seen on this trail before; they are proposed first.
    today
        No visit is later.
    """

    boxes: frozenset[str]
    species: Mapping[str, tuple[str, ...]]
    today: date
    met: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Proposal:
    """What a file seems to hold.

    Attributes
    ----------
    records
        The visits, in the order of the file; those with open questions are not to be added.
    decisions
        What was understood, each with its grounds.
    questions
        What has two readings; one for all cells alike.
    left_out
        Rows that are no visits, and why.
    notes
        How the file was read.
    tables
        How many tables were found.
    """

    file: str
    records: tuple[Record, ...]
    decisions: tuple[Decision, ...]
    questions: tuple[Question, ...]
    left_out: tuple[tuple[Place, str], ...]
    notes: tuple[str, ...]
    tables: int


def propose(sheets: Sheets, *, known: Known, answers: Answers, file: str) -> Proposal:
    """Read the visits of a file.

    Parameters
    ----------
    answers
        What a person has decided, by `Question.section` and `item`; goes before all else.
    """
    ids = BoxIds(known.boxes)
    settled = Settled(answers)
    species = SpeciesNames(known.species)
    layouts = [
        layout for grid in sheets.grids for layout in find_tables(grid, ids=ids, today=known.today)
    ]
    layouts = [
        settle_columns(layout, settled, ids=ids, species=species, today=known.today)
        for layout in layouts
    ]
    days = DayReader(layouts, settled, today=known.today, file=file)
    reader = RowReader(settled, ids=ids, species=species, days=days, known=known)
    records: list[Record] = []
    for layout in layouts:
        records += reader.read(layout)
    return Proposal(
        file=file,
        records=tuple(records),
        decisions=tuple(settled.decisions.values()),
        questions=tuple(_in_order(settled.questions.values())),
        left_out=tuple(reader.left_out),
        notes=sheets.notes,
        tables=len(layouts),
    )


def _in_order(questions: Iterable[Question]) -> list[Question]:
    """Columns and days first: what they decide may answer others."""
    sections = ("columns", "dates", "rows", "boxes", "species", "cells")
    return sorted(questions, key=lambda one: sections.index(one.section))
