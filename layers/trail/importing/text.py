"""Tables of text (CSV and its kin), read as a stream whatever the encoding and delimiter."""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import IO

from layers.errors import Fault
from layers.trail.exporting.harmless import restored
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
    with (
        path.open("rb") as raw,
        io.TextIOWrapper(raw, encoding=encoding.name, errors=encoding.errors, newline="") as file,
    ):
        try:
            sample = file.read(_SAMPLE_LETTERS)
            delimiter, rest = delimiter_of(sample)
            file.seek(0)
            if rest != sample:
                file.readline()
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
            raise refused(path.name, _TEXT, f"bytes that are not {encoding.title}") from error
        table = Table(file=path.name, header=tuple(map(str.strip, header)), rows=iter(()))
        table.notes += _notes(encoding, delimiter)
        size = path.stat().st_size
        table.rows = _rows(reader, table, number, report=lambda: progress(raw.tell(), size))
        yield table


_TEXT = "a table of text in UTF-8, UTF-16 with a mark, or Windows-1252"
_OTHER_PAGE = f"{_TEXT}; save it as CSV in UTF-8, which spreadsheet programs offer"

_SEPARATOR_LINE = re.compile(r"\ufeff?\"?sep=(.)\"?\r?\n")
_LETTERS_OF_UTF_8 = re.compile(
    rb"[\xc2-\xdf][\x80-\xbf]|[\xe0-\xef][\x80-\xbf]{2}|[\xf0-\xf4][\x80-\xbf]{3}"
)
_SEEN_IN_1252 = frozenset(
    "äöüÄÖÜßéèêëÉÈÊËàâáãåÀÂÁÃÅçÇñÑíìîïÍÎÏóòôõøÓÔÕØúùûÚÙÛÿœŒæÆýÝ€£°º²³µ§«»±×½¼¾¿¡·´‘’‚“”„–—…•\xa0\xad"
)
"""Letters and signs of western Europe's languages. Text of another code page, read as
Windows-1252, shows others: "Å¡" or "„" within a word; general knowledge."""


@dataclass(frozen=True)
class _Encoding:
    name: str
    stray: int = 0
    """Bytes that are no text in it; their cells are refused one by one."""

    @property
    def title(self) -> str:
        """The name that people know."""
        return {"utf-8-sig": "UTF-8", "cp1252": "Windows-1252"}.get(self.name, self.name.upper())

    @property
    def errors(self) -> str:
        return "surrogateescape" if self.stray else "strict"


def _encoding(path: Path) -> _Encoding:
    """The encoding by looking at every byte: one letter of another shows late in a file.

    A byte or two that are not UTF-8 do not make a file of another encoding where more
    letters are: the rest decides.
    """
    with path.open("rb") as file:
        start = file.read(4)
        if start.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
            return _Encoding("utf-16")
        file.seek(0)
        decoder = codecs.getincrementaldecoder("utf-8-sig")()
        plain = True
        while chunk := file.read(_CHUNK_BYTES):
            if b"\0" in chunk:
                raise refused(path.name, _TEXT, f"other bytes, which begin with {start!r}")
            try:
                if plain:
                    decoder.decode(chunk)
            except UnicodeDecodeError:
                plain = False
        try:
            if plain:
                decoder.decode(b"", final=True)
                return _Encoding("utf-8-sig")
        except UnicodeDecodeError:
            pass
        file.seek(0)
        return _eight_bits(path, file)


def _eight_bits(path: Path, file: IO[bytes]) -> _Encoding:
    """UTF-8 with stray bytes, or Windows-1252; anything else is refused."""
    letters = stray = 0
    high: Counter[int] = Counter()
    # Line by line, so that no letter is cut in two.
    for line in file:
        found = _LETTERS_OF_UTF_8.findall(line)
        letters += len(found)
        beyond = [byte for byte in line if byte >= 0x80]
        stray += len(beyond) - sum(map(len, found))
        high.update(beyond)
    if letters > stray:
        return _Encoding("utf-8-sig", stray)
    try:
        seen = bytes(high).decode("cp1252")
    except UnicodeDecodeError as error:
        raise refused(path.name, _OTHER_PAGE, "other bytes") from error
    if strange := sorted(set(seen) - _SEEN_IN_1252):
        came = f"bytes that would be {' '.join(map(repr, strange[:3]))} in Windows-1252"
        raise refused(path.name, _OTHER_PAGE, came)
    return _Encoding("cp1252")


def decoded(path: Path) -> tuple[str, str, list[str]]:
    """The text of a file below a line that names its delimiter, the delimiter, and notes on how it
    was read.
    """
    encoding = _encoding(path)
    try:
        text = path.read_bytes().decode(encoding.name, encoding.errors)
    except UnicodeDecodeError as error:
        raise refused(path.name, _TEXT, f"bytes that are not {encoding.title}") from error
    delimiter, text = delimiter_of(text.removeprefix("\ufeff"))
    return text, delimiter, _notes(encoding, delimiter)


def _notes(encoding: _Encoding, delimiter: str) -> list[str]:
    """How a file was read, but for what is usual: UTF-8, and commas between columns."""
    notes = []
    if encoding.stray:
        notes.append(f"read as {encoding.title}, but for {encoding.stray} bytes of another")
    elif encoding.title != "UTF-8":
        notes.append(f"read as {encoding.title}")
    if delimiter != ",":
        named = "tabs" if delimiter == "\t" else delimiter
        notes.append(f"columns separated by {named}")
    return notes


def delimiter_of(text: str) -> tuple[str, str]:
    """The delimiter of a table, and its text without a first line that names it."""
    named = _SEPARATOR_LINE.match(text)
    if named is not None:
        return named[1], text[named.end() :]
    return _delimiter(text[:_SAMPLE_LETTERS]), text


def _delimiter(sample: str) -> str:
    """The delimiter by which most rows have equally many cells, and that many."""

    def score(mark: str) -> tuple[float, int]:
        try:
            found = list(
                islice(csv.reader(io.StringIO(sample, newline=""), delimiter=mark), _SAMPLE_ROWS)
            )
        except csv.Error:
            return 0, 0
        widths = Counter(len(cells) for cells in found if any(map(str.strip, cells)))
        width, rows = max(widths.items(), key=lambda of: (of[0] > 1, of[1]), default=(1, 0))
        return (rows / widths.total() if width > 1 else 0), width

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
            yield Row(number, table.file, [restored(c) if c[:1] == "'" else c for c in cells])
        if number % _REPORT_EVERY_ROWS == 0:
            report()
    report()
