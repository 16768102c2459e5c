"""A draft as its page shows it: cells with what they were read as, questions, what it adds."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from layers.errors import Conflict
from layers.trail.importing.proposing import Proposal, Question
from layers.trail.importing.proposing.answers import Place
from layers.trail.importing.proposing.columns import OWN
from layers.trail.importing.proposing.features import FeatureProposal
from layers.trail.importing.proposing.grids import Grid, Sheets

MAX_ROWS = 200
MAX_COLUMNS = 40


@dataclass(frozen=True)
class Cell:
    """One cell: its text, what it was read as, and the questions about it by their number."""

    text: str
    read_as: str
    questions: tuple[int, ...]


@dataclass(frozen=True)
class Line:
    """One row of a sheet; `state` is added, open, faulty or empty for rows that are no visits."""

    number: int
    state: str
    cells: tuple[Cell, ...]


@dataclass(frozen=True)
class SheetView:
    """One sheet, up to `MAX_ROWS` rows; `left` are those that are not shown."""

    name: str
    lines: tuple[Line, ...]
    left: int


@dataclass(frozen=True)
class Adds:
    """What would be added."""

    visits: int
    waiting: int
    boxes: tuple[str, ...]
    weeks: tuple[tuple[date, int], ...]


def sheets_of(sheets: Sheets, proposal: Proposal) -> list[SheetView]:
    """Every sheet with the readings of its cells."""
    open_cells: dict[Place, list[int]] = {}
    for number, question in enumerate(proposal.questions, start=1):
        for place in question.places:
            open_cells.setdefault(place, []).append(number)
    read: dict[Place, list[str]] = {}
    state: dict[tuple[str, int], str] = {}
    for record in proposal.records:
        worst = "open" if record.open else "faulty" if record.unread else "added"
        key = (record.sheet, record.row)
        state[key] = worst if state.get(key, "added") == "added" else state[key]
        for name, place in record.places.items():
            values = _values(record.values, name)
            if place.row == record.row and values:
                read.setdefault(place, []).append(values)
    for decision in proposal.decisions:
        if decision.section == "columns":
            for place in decision.places:
                read.setdefault(place, []).append(decision.value)
    return [_sheet(grid, read, open_cells, state) for grid in sheets.grids if grid.rows]


def _values(values: dict[str, object], name: str) -> str:
    if name == OWN:
        return "your own column"
    if name == "contents":
        shown = ("eggs", "eggs_warm", "young", "young_days", "dead_young", "nest", "adult")
        return ", ".join(f"{one.replace('_', ' ')} {values[one]}" for one in shown if one in values)
    value = values.get(name)
    return "" if value is None else str(value)


def _sheet(
    grid: Grid,
    read: dict[Place, list[str]],
    open_cells: dict[Place, list[int]],
    state: dict[tuple[str, int], str],
) -> SheetView:
    lines = []
    for number, row in enumerate(grid.rows[:MAX_ROWS], start=1):
        cells = []
        for column, cell in enumerate(row[:MAX_COLUMNS], start=1):
            place = Place(grid.sheet, number, column)
            readings = list(dict.fromkeys(read.get(place, ())))
            text = _text(cell)
            meaning = "; ".join(one for one in readings if one != text)
            cells.append(Cell(text, meaning, tuple(open_cells.get(place, ()))))
        lines.append(Line(number, state.get((grid.sheet, number), "empty"), tuple(cells)))
    return SheetView(grid.sheet, tuple(lines), max(len(grid.rows) - MAX_ROWS, 0))


def _text(cell: object) -> str:
    if cell is None:
        return ""
    if isinstance(cell, datetime | date):
        return cell.isoformat().removesuffix("T00:00:00")
    return str(cell) if isinstance(cell, str | int | float | bool) else "a formula without a value"


def adds_of(proposal: Proposal) -> Adds:
    """The visits that could be added now, by box and week."""
    clear = [one for one in proposal.records if not one.open and one.unread is None]
    days = [day for one in clear if isinstance(day := one.values.get("date"), date)]
    weeks = Counter(day - timedelta(days=day.weekday()) for day in days)
    return Adds(
        visits=len(clear),
        waiting=len(proposal.records) - len(clear),
        boxes=tuple(dict.fromkeys(str(one.values["box"]) for one in clear)),
        weeks=tuple(sorted(weeks.items())),
    )


def reading_of(proposal: Proposal | FeatureProposal) -> str:
    """Stands for all that a page showed would be added; another where any of it differs."""
    held: list[object]
    if isinstance(proposal, Proposal):
        held = [(one.sheet, one.row, one.values, one.unread) for one in proposal.records]
    else:
        held = [
            (one.kind, one.raw, [shape.wkt for shape in one.shapes]) for one in proposal.features
        ]
    return hashlib.sha256(repr(held).encode()).hexdigest()[:32]


def expect_as_shown(proposal: Proposal | FeatureProposal, shown: str | None) -> None:
    """Refuse to add what is read otherwise now than on the page whose button was pressed."""
    if shown is not None and shown != reading_of(proposal):
        raise Conflict(
            f"{proposal.file} is read otherwise now than on the page before: its answers or the"
            " trail's boxes changed in between. Nothing was added. This is how it is read now; look"
            " at it, and add it then"
        )


def field_name(question: Question) -> str:
    """The name of a question's field in the form."""
    return f"answer:{question.section}:{question.item}"


def answers_of(fields: Sequence[tuple[str, str]]) -> dict[str, dict[str, str]]:
    """The answers that a form carries; what was typed goes before what was chosen."""
    found: dict[str, dict[str, str]] = {}
    for kind in ("answer", "typed"):
        for name, value in fields:
            of, _, rest = name.partition(":")
            section, _, item = rest.partition(":")
            if of == kind and item and value.strip():
                found.setdefault(section, {})[item] = value.strip()
    return found
