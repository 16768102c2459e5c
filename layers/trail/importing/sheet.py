"""Spreadsheets in Office Open XML, with the types of their cells.

calamine reads the values. Of a cell with an error, or a formula that was never calculated,
it gives the same as of a blank one, and one stray cell in the far corner makes it abort the
process: so the XML of the sheet is surveyed first.
"""

from __future__ import annotations

import csv
import posixpath
import zipfile
import zlib
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from xml.etree import ElementTree
from xml.parsers import expat

from python_calamine import (
    CalamineError,
    CalamineSheet,
    CalamineWorkbook,
    SheetTypeEnum,
    SheetVisibleEnum,
)

from layers.errors import Fault
from layers.trail.importing.cells import NeverCalculated
from layers.trail.importing.source import Progress, Row, Table, refused

SUFFIXES = (".xlsx", ".xlsm")

MAX_UNPACKED_BYTES = 500_000_000
"""What a file may unpack to: more than a full sheet of visits, and read in half a minute."""

MAX_CELLS = 10_000_000
"""Cells down to the last filled row and across to the last filled column; 32 bytes each."""

_REPORT_EVERY_ROWS = 2000
_CHUNK_BYTES = 1 << 20
_UNREADABLE = (
    # What calamine and the readers of ZIP and XML raise on damaged files, seen by changing
    # bytes of sound ones. LookupError and ValueError cover their kin.
    CalamineError,
    zipfile.BadZipFile,
    zlib.error,
    ElementTree.ParseError,
    expat.ExpatError,
    LookupError,
    ValueError,
    csv.Error,
    NotImplementedError,
    RuntimeError,
    EOFError,
    OSError,
)


@dataclass
class _Survey:
    """What the XML of a sheet shows: its size, and cells that calamine takes for blank.

    `unseen` gives, by row and column counted from 1 and 0, what such a cell holds.
    """

    rows: int = 0
    columns: int = 0
    unseen: dict[int, dict[int, object]] = field(default_factory=lambda: defaultdict(dict))


@contextmanager
def open_sheet(path: Path, *, kind: str, progress: Progress) -> Iterator[Table]:
    """The rows of a spreadsheet while the block lasts; progress counts rows.

    Of several sheets that are shown the one named like `kind` is read, else the first.
    Cells with a formula give the value that was last computed.

    Raises
    ------
    Refused
        It cannot be read, is far too large, or its sheet is empty.
    """
    with damage_refused(path.name, "a damaged or foreign file"):
        book = CalamineWorkbook.from_path(path)
        shown, hidden = sheets_of(book)
        if not shown:
            came = f"none but the hidden sheet {hidden[0]}" if hidden else "none"
            raise refused(path.name, "a sheet of cells that is shown", came)
        fitting = [title for title in shown if title.strip().casefold() == kind]
        title = (fitting or shown)[0]
        unseen = survey(path, title).unseen
        sheet = book.get_sheet_by_name(title)
    table = Table(file=path.name, header=(), rows=iter(()))
    if len(shown) + len(hidden) > 1:
        others = ", ".join(other for other in (*shown, *hidden) if other != title)
        table.notes.append(f"sheet {title} read, not {others}")
    with damage_refused(path.name, "a damaged file"):
        rows = numbered(sheet, unseen)
        table.header = header_of(rows, path.name)
    table.rows = rows_below(rows, table, progress)
    try:
        yield table
    finally:
        book.close()


def sheets_of(book: CalamineWorkbook) -> tuple[list[str], list[str]]:
    """Titles of the sheets of cells that are shown, and of those that are hidden."""
    shown: list[str] = []
    hidden: list[str] = []
    for one in book.sheets_metadata:
        if one.typ == SheetTypeEnum.WorkSheet:
            (shown if one.visible == SheetVisibleEnum.Visible else hidden).append(one.name)
    return shown, hidden


@contextmanager
def damage_refused(
    file: str, came: str, *, expected: str = "a spreadsheet that can be read"
) -> Iterator[None]:
    try:
        yield
    except _UNREADABLE as error:
        raise refused(file, expected, came) from error
    except BaseException as error:
        # By this calamine's Rust code reports a fault of its own; it is no `Exception`.
        if type(error).__name__ != "PanicException":
            raise
        raise refused(file, expected, came) from error


def survey(path: Path, title: str) -> _Survey:
    """The size of a sheet, and what calamine would not show of it.

    Raises
    ------
    Refused
        The file unpacks to more, or the sheet has more cells, than can be read.
    """
    check_unpacked(path)
    with zipfile.ZipFile(path) as archive:
        surveyor = _Surveyor()
        with archive.open(_member(archive, title)) as file:
            while chunk := file.read(_CHUNK_BYTES):
                surveyor.feed(chunk)
        found = surveyor.close()
    if found.rows * found.columns > MAX_CELLS:
        raise refused(
            path.name,
            f"a sheet of at most {MAX_CELLS:,} cells",
            f"one filled down to row {found.rows:,} and across to column {found.columns:,}",
        )
    return found


def _member(archive: zipfile.ZipFile, title: str) -> str:
    """Name of the file in the archive that holds a sheet (ECMA-376, 12.3.24)."""

    def relations(of: str) -> Mapping[str, tuple[str, str]]:
        folder, name = posixpath.split(of)
        root = ElementTree.fromstring(archive.read(posixpath.join(folder, "_rels", f"{name}.rels")))
        return {
            one.attrib["Id"]: (
                one.attrib["Type"],
                posixpath.normpath(posixpath.join("/", folder, one.attrib["Target"])).lstrip("/"),
            )
            for one in root
        }

    # Names are compared without their namespaces, which differ in the strict form (part 4).
    kinds = relations("").values()
    book = next((target for type_, target in kinds if type_.endswith("/officeDocument")), "")
    for one in ElementTree.fromstring(archive.read(book)).iter():
        if one.tag.endswith("}sheet") and one.attrib["name"] == title:
            relation = next(key for key in one.attrib if key.endswith("}id"))
            return relations(book)[one.attrib[relation]][1]
    raise LookupError(title)


def check_unpacked(path: Path) -> None:
    """Refuse a zipped file that unpacks to more than can be read."""
    with zipfile.ZipFile(path) as archive:
        unpacked = sum(member.file_size for member in archive.infolist())
    if unpacked > MAX_UNPACKED_BYTES:
        most = f"{MAX_UNPACKED_BYTES / 1e6:.0f} MB"
        raise refused(path.name, f"a file of at most {most} unpacked", f"{unpacked / 1e6:.0f} MB")


class _Surveyor:
    """Takes the XML of a sheet in chunks (ECMA-376, 18.3.1.4: cells `c` in `row`)."""

    def __init__(self) -> None:
        self._survey = _Survey()
        # Without namespaces: a prefix is cut off where there is one.
        self._parser = expat.ParserCreate()
        self._parser.StartElementHandler = self._start
        self._row = self._column = 0
        self._type = ""
        self._parts = ""
        self._text = ""

    def feed(self, chunk: bytes) -> None:
        self._parser.Parse(chunk, False)

    def close(self) -> _Survey:
        self._parser.Parse(b"", True)
        self._finish_cell()
        return self._survey

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        tag = name.rpartition(":")[2] if ":" in name else name
        if tag == "v":
            self._parts += tag
            if self._type == "e" or "f" in self._parts:
                self._parser.CharacterDataHandler = self._collect
        elif tag == "c":
            self._finish_cell()
            if place := attributes.get("r"):
                letters = place.rstrip("0123456789")
                self._column = _column(letters)
                # calamine goes by the number of the cell, whatever its row says.
                self._row = int(place[len(letters) :] or self._row)
            else:
                self._column += 1
            self._type = attributes.get("t", "n")
        elif tag == "row":
            self._finish_cell()
            self._row = int(attributes.get("r", self._row + 1))
            self._column = -1
        elif tag in ("f", "is"):
            self._parts += tag

    def _collect(self, text: str) -> None:
        self._text += text

    def _finish_cell(self) -> None:
        if not self._parts:
            return
        survey, text = self._survey, self._text.strip()
        survey.rows = max(survey.rows, self._row)
        survey.columns = max(survey.columns, self._column + 1)
        # A formula may give an empty text; a number is never empty.
        calculated = text or ("v" in self._parts and self._type == "str")
        if self._type == "e":
            survey.unseen[self._row][self._column] = text or "#N/A"
        elif "f" in self._parts and not calculated:
            survey.unseen[self._row][self._column] = NeverCalculated()
        self._parts = self._text = ""
        self._parser.CharacterDataHandler = None


@lru_cache(maxsize=20_000)
def _column(letters: str) -> int:
    """The column of the letters of a cell like `AB12`, counted from 0."""
    number = 0
    for letter in letters.upper():
        number = number * 26 + ord(letter) - ord("A") + 1
    return number - 1


def numbered(
    sheet: CalamineSheet, unseen: Mapping[int, Mapping[int, object]]
) -> Iterator[tuple[int, list[object]]]:
    """The rows as a person numbers them, up to the last filled cell of each; blanks are None."""
    number = 0
    # calamine gives the blank rows above the first filled cell, not the columns left of it.
    margin: list[object] = [None] * (sheet.start[1] if sheet.start else 0)
    for number, cells in enumerate(sheet.iter_rows(), start=1):
        yield number, _filled(margin + [_plain(cell) for cell in cells], unseen.get(number, {}))
    yield from ((below, _filled([], unseen[below])) for below in sorted(unseen) if below > number)


def _plain(cell: object) -> object:
    """A cell without calamine's marks: blanks are texts to it, and all numbers are floats."""
    if isinstance(cell, float) and cell.is_integer():
        return int(cell)
    return None if cell == "" else cell


def _filled(row: list[object], unseen: Mapping[int, object]) -> list[object]:
    for column, value in unseen.items():
        row += [None] * (column + 1 - len(row))
        row[column] = value
    while row and row[-1] is None:
        row.pop()
    return row


def header_of(rows: Iterator[tuple[int, Sequence[object]]], file: str) -> tuple[str, ...]:
    for _, cells in rows:
        if any(isinstance(cell, NeverCalculated) for cell in cells):
            came = "formulas that were never calculated"
            raise refused(file, "a header of column names", came)
        if cells:
            header = ["" if cell is None else str(cell).strip() for cell in cells]
            while header and not header[-1]:
                header.pop()
            return tuple(header)
    raise refused(file, "a header and rows below it", "an empty sheet")


def rows_below(
    rows: Iterator[tuple[int, Sequence[object]]], table: Table, progress: Progress
) -> Iterator[Row | Fault]:
    number, width = 1, len(table.header)
    with damage_refused(table.file, "a damaged file"):
        for number, cells in rows:
            if len(cells) > width:
                expected = f"no more than the {width} cells of the header"
                yield Fault(expected, f"{len(cells)}", file=table.file, row=number)
            elif cells:
                yield Row(number, table.file, cells)
            if number % _REPORT_EVERY_ROWS == 0:
                progress(number, None)
    progress(number, number)
