"""A file of visits as it was understood, with the answers that this trail remembers."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from layers.nesting.guide import Guide
from layers.trail.importing.proposing import Answers, Known, Proposal, propose, read_grids
from layers.trail.importing.proposing.grids import Sheets
from layers.trail.importing.proposing.recipe import merged, remembered
from layers.trail.store import Trail


def known_of(trail: Trail, guide: Guide, *, today: date) -> Known:
    """What is known of a trail when a file is read."""
    met = trail.rows("SELECT DISTINCT species FROM visits WHERE species NOTNULL")
    return Known(
        boxes=frozenset(trail.box_ids()),
        species={one.common: one.names for one in guide.species},
        today=today,
        met=frozenset(row[0] for row in met),
    )


def understand(
    source: Path, trail: Trail, guide: Guide, *, today: date, answers: Answers, name: str = ""
) -> Proposal:
    """What a file of visits holds, by the answers of now and of earlier files."""
    return understand_sheets(
        read_grids(source), trail, guide, today=today, answers=answers, name=name or source.name
    )


def understand_sheets(
    sheets: Sheets, trail: Trail, guide: Guide, *, today: date, answers: Answers, name: str
) -> Proposal:
    """The same, from sheets read before."""
    return propose(
        sheets,
        known=known_of(trail, guide, today=today),
        answers=merged(remembered(trail), answers),
        file=name,
    )
