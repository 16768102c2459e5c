"""Spreadsheets in Office Open XML, read row by row with the types of their cells."""

from __future__ import annotations

import struct
import warnings
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any
from xml.etree.ElementTree import ParseError

import openpyxl
from openpyxl.utils.exceptions import InvalidFileException

from layers.errors import Fault
from layers.trail.bring.source import Progress, Row, Table, refused

SUFFIXES = (".xlsx", ".xlsm")

_SAY_EVERY_ROWS = 2000
_UNREADABLE = (
    # What openpyxl and the ZIP and XML readers below it raise on damaged files, seen by
    # changing bytes of sound ones. LookupError and ValueError cover their kin.
    zipfile.BadZipFile,
    zlib.error,
    struct.error,
    InvalidFileException,
    ParseError,
    LookupError,
    ValueError,
    TypeError,
    AttributeError,
    ArithmeticError,
    RuntimeError,
    EOFError,
    OSError,
)


@contextmanager
def open_sheet(path: Path, *, kind: str, progress: Progress) -> Iterator[Table]:
    """The rows of a spreadsheet while the block lasts; progress is told in rows.

    Of several sheets the one that is named like `kind` is read, else the first.
    Cells with a formula give the value that was last computed.

    Raises
    ------
    Refused
        It cannot be read, or its sheet is empty.
    """
    with path.open("rb") as file:
        book = _book(file, path.name)
        try:
            sheets = {sheet.title: sheet for sheet in book.worksheets}
            if not sheets:
                raise refused(path.name, "a sheet of cells", "none")
            fitting = [title for title in sheets if title.strip().casefold() == kind]
            title = (fitting or list(sheets))[0]
            # The size that a file states is often wrong; without it every row is given.
            sheets[title].reset_dimensions()
            numbered = enumerate(sheets[title].iter_rows(values_only=True), start=1)
            table = Table(file=path.name, header=(), rows=iter(()))
            if len(sheets) > 1:
                others = ", ".join(other for other in sheets if other != title)
                table.notes.append(f"sheet {title} read, not {others}")
            table.header, table.rows = _header_and_rows(numbered, table, progress)
            yield table
        finally:
            book.close()


def _book(file: IO[bytes], name: str) -> Any:
    try:
        with warnings.catch_warnings():
            # It warns of styles and drop-down lists that it does not keep; only cells matter.
            warnings.simplefilter("ignore")
            return openpyxl.load_workbook(file, read_only=True, data_only=True)
    except _UNREADABLE as error:
        raise refused(name, "a spreadsheet (.xlsx)", "a damaged or foreign file") from error


def _header_and_rows(
    numbered: Iterator[tuple[int, tuple[Any, ...]]], table: Table, progress: Progress
) -> tuple[tuple[str, ...], Iterator[Row | Fault]]:
    try:
        for _, cells in numbered:
            if any(cell is not None for cell in cells):
                header = ["" if cell is None else str(cell).strip() for cell in cells]
                while header and not header[-1]:
                    header.pop()
                return tuple(header), _rows(numbered, table, len(header), progress)
    except _UNREADABLE as error:
        raise refused(table.file, "a spreadsheet (.xlsx)", "a damaged file") from error
    raise refused(table.file, "a header and rows below it", "an empty sheet")


def _rows(
    numbered: Iterator[tuple[int, tuple[Any, ...]]], table: Table, width: int, progress: Progress
) -> Iterator[Row | Fault]:
    number = 1
    try:
        for number, cells in numbered:
            if any(cell is not None for cell in cells[width:]):
                yield Fault(
                    f"no more than the {width} cells of the header",
                    f"{len(cells)}",
                    file=table.file,
                    row=number,
                )
            elif any(cell is not None for cell in cells):
                yield Row(number, table.file, cells)
            if number % _SAY_EVERY_ROWS == 0:
                progress(number, None)
    except _UNREADABLE as error:
        raise refused(table.file, "a spreadsheet (.xlsx)", "a damaged file", row=number) from error
    progress(number, number)
