"""Sheets of a file as grids of cells, read whole: tables as people keep them are small.

Workbooks are read in a process of its own (`book_worker`), with bounded memory and time.
"""

from __future__ import annotations

import csv
import io
import json
import subprocess
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

from layers.trail.exporting.harmless import restored
from layers.trail.importing.cells import NeverCalculated
from layers.trail.importing.sealed import sealed
from layers.trail.importing.source import refused
from layers.trail.importing.text import decoded

TEXT_SUFFIXES = (".csv", ".tsv", ".txt", ".tab")
BOOK_SUFFIXES = (".xlsx", ".xlsm", ".xls", ".ods")

MAX_TEXT_BYTES = 20_000_000
"""A table that a person keeps by hand; larger ones are read as a stream by their header."""
MAX_CELLS = 2_000_000
TIMEOUT_S = 60.0
_WORKER = sealed(
    "layers.trail.importing.proposing.book_worker", memory_bytes=1 << 30, processor_s=50
)


@dataclass(frozen=True)
class Grid:
    """One sheet: `rows[0]` is row 1 as a person counts; blank cells are None."""

    sheet: str
    rows: Sequence[Sequence[object]]

    def cell(self, row: int, column: int) -> object:
        """The cell at a row and column counted from 0; None outside."""
        cells = self.rows[row] if 0 <= row < len(self.rows) else ()
        return cells[column] if 0 <= column < len(cells) else None


@dataclass(frozen=True)
class Sheets:
    """The sheets of a file that hold cells, and notes on how it was read."""

    grids: tuple[Grid, ...]
    notes: tuple[str, ...] = ()


def read_grids(path: Path) -> Sheets:
    """All sheets of a file.

    Raises
    ------
    Refused
        It cannot be read, or is too large to be looked at whole.
    """
    if path.suffix.lower() in BOOK_SUFFIXES:
        return _book(path)
    size = path.stat().st_size
    if size > MAX_TEXT_BYTES:
        raise refused(
            path.name,
            f"a table of at most {MAX_TEXT_BYTES / 1e6:.0f} MB, or one whose first row names"
            " the columns as in the table of columns in README",
            f"{size / 1e6:.0f} MB",
        )
    text, delimiter, notes = decoded(path)
    try:
        rows = [
            [restored(cell) if cell.strip() else None for cell in row]
            for row in csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
        ]
    except csv.Error as error:
        raise refused(path.name, "a table of text", str(error)) from error
    return Sheets((Grid("", rows),), tuple(notes))


def _book(path: Path) -> Sheets:
    expected = "a spreadsheet that can be read"
    try:
        done = subprocess.run(
            [*_WORKER, str(path.absolute())],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            timeout=TIMEOUT_S,
            check=False,
        )
    except subprocess.TimeoutExpired as error:
        raise refused(path.name, expected, f"no answer for {TIMEOUT_S:g} seconds") from error
    try:
        message: dict[str, Any] = json.loads(done.stdout)
    except ValueError as error:
        raise refused(path.name, expected, "one that crashes the library that reads it") from error
    if "came" in message:
        raise refused(path.name, message["expected"], message["came"])
    grids = tuple(
        Grid(sheet["name"], [[_cell(cell) for cell in row] for row in sheet["rows"]])
        for sheet in message["sheets"]
    )
    return Sheets(grids, tuple(message["notes"]))


def packed(value: object) -> object:
    """A cell as JSON holds it."""
    if isinstance(value, NeverCalculated):
        return {"formula": True}
    if isinstance(value, datetime):
        return {"moment": value.isoformat()}
    if isinstance(value, date):
        return {"day": value.isoformat()}
    if isinstance(value, time):
        return {"time": value.isoformat()}
    return value if isinstance(value, str | int | float | bool) or value is None else str(value)


def _cell(held: Any) -> object:
    if not isinstance(held, dict):
        return None if isinstance(held, str) and not held.strip() else held
    if "moment" in held:
        return datetime.fromisoformat(held["moment"])
    if "day" in held:
        return date.fromisoformat(held["day"])
    return time.fromisoformat(held["time"]) if "time" in held else NeverCalculated()
