"""Tables of text (CSV and its kin), read as a stream whatever the encoding and delimiter."""

from __future__ import annotations

import codecs
import csv
import io
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from itertools import islice
from pathlib import Path

from layers.errors import Fault
from layers.trail.importing.cells import quoted
from layers.trail.importing.source import Progress, Row, Table, refused

SUFFIXES = (".csv", ".tsv", ".txt", ".tab")

_DELIMITERS = (",", ";", "\t", "|")
_CHUNK_BYTES = 1 << 20
_SAMPLE_LETTERS = 65_536
_SAMPLE_ROWS = 50
_REPORT_EVERY_ROWS = 2000


@contextmanager
def open_text(path: Path, *, progress: Progress) -> Iterator[Table]:
    """The rows of a table of text while the block lasts; progress counts bytes.

    UTF-8, UTF-16 with a mark, else Windows-1252. The delimiter is the one of `,` `;` tab
    and `|` by which rows have as many cells as the header. The header is the first row that is
    not blank.

    Raises
    ------
    Refused
        The file holds no text, or no row.
    """
    encoding = _encoding(path)
    with path.open("rb") as raw, io.TextIOWrapper(raw, encoding=encoding, newline="") as file:
        try:
            delimiter = _delimiter(file.read(_SAMPLE_LETTERS))
            file.seek(0)
            reader = csv.reader(file, delimiter=delimiter, strict=True)
            number, header = next(
                (number, cells)
                for number, cells in enumerate(reader, start=1)
                if any(map(str.strip, cells))
            )
        except StopIteration as error:
            raise refused(path.name, "a header and rows below it", "an empty file") from error
        except csv.Error as error:
            raise refused(path.name, "a header of column names", str(error)) from error
        except UnicodeDecodeError as error:
            raise refused(path.name, _TEXT, f"bytes that are not {encoding}") from error
        table = Table(file=path.name, header=tuple(map(str.strip, header)), rows=iter(()))
        named = "tab" if delimiter == "\t" else delimiter
        table.notes.append(f"encoding {encoding}, delimiter {named}")
        size = path.stat().st_size
        table.rows = _rows(reader, table, number, report=lambda: progress(raw.tell(), size))
        yield table


_TEXT = "a table of text in UTF-8, UTF-16 with a mark, or Windows-1252"


def _encoding(path: Path) -> str:
    """The encoding by looking at every byte: one letter of another shows late in a file."""
    with path.open("rb") as file:
        start = file.read(4)
        if start.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
            return "utf-16"
        file.seek(0)
        decoders = {name: codecs.getincrementaldecoder(name)() for name in ("utf-8-sig", "cp1252")}
        while decoders:
            chunk = file.read(_CHUNK_BYTES)
            if b"\0" in chunk:
                break
            for name, decoder in list(decoders.items()):
                try:
                    decoder.decode(chunk, final=not chunk)
                except UnicodeDecodeError:
                    del decoders[name]
            if not chunk and decoders:
                return next(iter(decoders))
    raise refused(path.name, _TEXT, f"other bytes, which begin with {start!r}")


def _delimiter(sample: str) -> str:
    """The delimiter by which most rows have as many cells as the header, and that many."""

    def score(mark: str) -> tuple[float, int]:
        try:
            found = list(
                islice(csv.reader(io.StringIO(sample, newline=""), delimiter=mark), _SAMPLE_ROWS)
            )
        except csv.Error:
            return 0, 0
        widths = [len(cells) for cells in found if any(map(str.strip, cells))]
        if not widths or widths[0] == 1:
            return 0, 1
        return widths[1:].count(widths[0]) / len(widths), widths[0]

    return max(_DELIMITERS, key=score)


def _rows(
    reader: Iterator[list[str]], table: Table, number: int, *, report: Callable[[], None]
) -> Iterator[Row | Fault]:
    """The rows below the header, which is row `number`."""
    width = len(table.header)
    while True:
        number += 1
        try:
            cells = next(reader)
        except StopIteration:
            break
        except (csv.Error, UnicodeDecodeError) as error:
            # What follows cannot be split into rows any more.
            yield Fault(
                "a row that can be read (the rest of the file was not)",
                "bytes of another encoding" if isinstance(error, UnicodeError) else str(error),
                file=table.file,
                row=number,
            )
            return
        if any(cells[width:]):
            yield Fault(
                f"no more than the {width} cells of the header",
                f"{len(cells)}, from {quoted(next(filter(None, cells[width:])))} on",
                file=table.file,
                row=number,
            )
        elif any(map(str.strip, cells)):
            yield Row(number, table.file, cells)
        if number % _REPORT_EVERY_ROWS == 0:
            report()
    report()
