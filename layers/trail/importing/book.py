"""Spreadsheets in other formats than Office Open XML, read whole in a process of their own."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from layers.trail.importing.proposing.grids import Grid, read_grids
from layers.trail.importing.sheet import header_of, rows_below
from layers.trail.importing.source import Progress, Table, refused

SUFFIXES = (".ods", ".xls")


@contextmanager
def open_book(path: Path, *, kind: str, progress: Progress) -> Iterator[Table]:
    """The rows of a spreadsheet; of several sheets the one named like `kind`, else the first.

    Raises
    ------
    Refused
        It cannot be read, is too large, or its sheet is empty.
    """
    sheets = read_grids(path)
    filled = [grid for grid in sheets.grids if any(cells for _, cells in _numbered(grid))]
    if not filled:
        raise refused(path.name, "a header and rows below it", "an empty sheet")
    grid = next((one for one in filled if one.sheet.strip().casefold() == kind), filled[0])
    table = Table(file=path.name, header=(), rows=iter(()), notes=list(sheets.notes))
    if len(filled) > 1:
        others = ", ".join(one.sheet for one in filled if one is not grid)
        table.notes.append(f"sheet {grid.sheet} read, not {others}")
    rows = _numbered(grid)
    table.header = header_of(rows, path.name)
    table.rows = rows_below(rows, table, progress)
    yield table


def _numbered(grid: Grid) -> Iterator[tuple[int, list[object]]]:
    """The rows as a person numbers them, each up to its last filled cell."""
    for number, cells in enumerate(grid.rows, start=1):
        filled = list(cells)
        while filled and filled[-1] is None:
            filled.pop()
        yield number, filled
