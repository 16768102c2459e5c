"""Cells of tables: a value, a day, a measure or nothing, for people and for spreadsheets."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from datetime import date

from layers.nesting.season.apparent import ENOUGH_FOR_SHARE, ENOUGH_NESTS
from layers.nesting.season.doubts import format_cases
from layers.nesting.season.result import Measure, format_value
from layers.trail.exporting.harmless import harmless
from layers.words import format_day

Cell = str | int | float | date | Measure | None


FEW_MARK = "†"
FEW_NOTE = f"{FEW_MARK} fewer than {ENOUGH_NESTS} nests: chance alone may explain such a number."


@dataclass(frozen=True)
class Sheet:
    """One table; `passage` is the part of the report that it belongs to.

    `few` holds the positions of rows that are groups of fewer than `ENOUGH_NESTS` nests.
    """

    name: str
    title: str
    passage: str
    heads: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    few: frozenset[int] = frozenset()

    @property
    def has_few(self) -> bool:
        """Whether a group or a number of it is marked."""
        return bool(self.few) or any(is_few(cell) for row in self.rows for cell in row)

    @property
    def has_measures(self) -> bool:
        """Whether a cell needs more room than a word or a count."""
        return any(isinstance(cell, Measure) for row in self.rows for cell in row)

    def texts(self, most: int | None = None) -> list[list[str]]:
        """Its cells as people read them, up to so many rows."""
        found = [[format_cell(cell) for cell in row] for row in self.rows[:most]]
        for at in self.few:
            if at < len(found):
                found[at][0] += FEW_MARK
        return found


NOT_KNOWN = "not known"


def is_few(cell: Cell) -> bool:
    """Whether it is a number that rests on some nests, but on fewer than `ENOUGH_NESTS`."""
    return (
        isinstance(cell, Measure)
        and cell.estimate is not None
        and _of_nests(cell)
        and cell.n < ENOUGH_NESTS
    )


def _of_nests(measure: Measure) -> bool:
    return measure.counted.split()[0] not in ("boxes", "years")


def format_cell(cell: Cell) -> str:
    """A cell as people read it; a measure never without its n, and marked where that is small."""
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
    if cell.unit == "share" and cell.n < ENOUGH_FOR_SHARE and _of_nests(cell):
        return f"too few ({format_cases(cell.n, cell.counted)})"
    text = format_value(cell.estimate, cell.unit)
    if cell.interval is not None:
        ends = (format_value(end, cell.unit) for end in (cell.interval.low, cell.interval.high))
        text += f" ({' to '.join(ends)})"
    return f"{text}, n {cell.n}{FEW_MARK if is_few(cell) else ''}"


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
