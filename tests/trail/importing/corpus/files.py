"""A file to be read, with the truth of it."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import openpyxl

from layers.trail.importing.proposing.answers import Answers
from tests.trail.importing.book_files import ods, xls

Rows = list[list[Any]]


@dataclass
class Made:
    """A file: sheets of rows, or whole content, and what is in it by the columns that it shows."""

    name: str
    layout: str
    sheets: dict[str, Rows]
    truth: list[dict[str, Any]]
    book: bool = False
    suffix: str = ".xlsx"
    delimiter: str = ","
    encoding: str = "utf-8"
    answers: Answers = field(default_factory=dict)
    merged: tuple[str, ...] = ()
    hidden: str | None = None
    content: bytes = b""

    def write(self, folder: Path) -> Path:
        if self.content:
            path = folder / self.name
            path.write_bytes(self.content)
            return path
        return self._book(folder) if self.book else self._text(folder)

    def _text(self, folder: Path) -> Path:
        path = folder / f"{self.name}.csv"
        text = io.StringIO(newline="")
        (rows,) = self.sheets.values()
        csv.writer(text, delimiter=self.delimiter).writerows(rows)
        path.write_bytes(text.getvalue().encode(self.encoding))
        return path

    def _book(self, folder: Path) -> Path:
        path = folder / f"{self.name}{self.suffix}"
        if self.suffix != ".xlsx":
            path.write_bytes({".xls": xls, ".ods": ods}[self.suffix](self.sheets))
            return path
        book = openpyxl.Workbook()
        book.remove(book.worksheets[0])
        for title, rows in self.sheets.items():
            sheet = book.create_sheet(title)
            for row in rows:
                sheet.append(row)
            for span in self.merged:
                sheet.merge_cells(span)
        if self.hidden is not None:
            old = book.create_sheet(self.hidden, 0)
            old.append(["Box", "Date", "Eggs"])
            old.append(["1", "2025-05-01", 9])
            old.sheet_state = "hidden"
            book.active = 1
        book.save(path)
        return path
