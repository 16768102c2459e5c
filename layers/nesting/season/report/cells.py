"""Cells of tables: a value, a day, a measure or nothing, for people and for spreadsheets."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from datetime import date

from layers.nesting.season.doubts import format_cases
from layers.nesting.season.result import Measure, format_value
from layers.trail.exporting.harmless import harmless
from layers.words import format_day

Cell = str | int | float | date | Measure | None


@dataclass(frozen=True)
class Sheet:
    """One table; `passage` is the part of the report that it belongs to."""

    name: str
    title: str
    passage: str
    heads: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]


NOT_KNOWN = "not known"


def format_cell(cell: Cell) -> str:
    """A cell as people read it; a measure never without its n."""
    if cell is None:
        return NOT_KNOWN
    if isinstance(cell, date):
        return format_day(cell)
    if isinstance(cell, float):
        return f"{cell:.3f}"
    if not isinstance(cell, Measure):
        return str(cell)
    if cell.estimate is None:
        return f"no answer ({format_cases(cell.n, cell.counted)})"
    text = format_value(cell.estimate, cell.unit)
    if cell.interval is not None:
        ends = (format_value(end, cell.unit) for end in (cell.interval.low, cell.interval.high))
        text += f" ({' to '.join(ends)})"
    return f"{text}, n {cell.n}"


def as_csv(sheet: Sheet) -> str:
    """A table as comma-separated text: a measure takes columns for its number, interval and n.

    A person's word that a spreadsheet would take for a formula gets an apostrophe in front.
    """
    wide = [
        any(isinstance(row[at], Measure) for row in sheet.rows) for at in range(len(sheet.heads))
    ]
    heads = [
        name
        for head, own in zip(sheet.heads, wide, strict=True)
        for name in ([head, f"{head}, low", f"{head}, high", f"{head}, n"] if own else [head])
    ]
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(heads)
    writer.writerows(
        [value for cell, own in zip(row, wide, strict=True) for value in _values(cell, wide=own)]
        for row in sheet.rows
    )
    return text.getvalue()


def _values(cell: Cell, *, wide: bool) -> list[str | int | float | None]:
    if isinstance(cell, Measure):
        low, high = (cell.interval.low, cell.interval.high) if cell.interval else (None, None)
        return [cell.estimate, low, high, cell.n]
    value = cell.isoformat() if isinstance(cell, date) else cell
    value = harmless(value)
    return [value, None, None, None] if wide else [value]
