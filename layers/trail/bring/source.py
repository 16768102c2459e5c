"""What every reader of foreign files gives: a header and rows, whatever the format."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from layers.errors import Fault, Refused

Progress = Callable[[int, int | None], None]
"""Called now and then with what is done and what there is in all (None = not known)."""


@dataclass(frozen=True)
class Row:
    """One row of a table or feature of a vector file, as it came.

    `cells` stand in the order of the header and may be fewer. `shape` is a
    GeoJSON geometry in the file's own reference system; None for a row of a plain table
    or a feature without one.
    `file` names the layer too where the file has several.
    """

    number: int
    file: str
    cells: Sequence[object]
    shape: Mapping[str, Any] | None = None


@dataclass
class Table:
    """A foreign file while it is read.

    Attributes
    ----------
    rows
        A row, or the fault that stands in its place; read once.
    shaped
        Whether rows carry shapes; a plain table holds positions in cells, if at all.
    crs
        The reference system that the file states, as WKT; None if it states none.
    notes, unread
        How it was read, and names of what could not be; complete once `rows` is read.
    """

    file: str
    header: tuple[str, ...]
    rows: Iterator[Row | Fault]
    shaped: bool = False
    crs: str | None = None
    notes: list[str] = field(default_factory=list)
    unread: list[str] = field(default_factory=list)


def refused(file: str, expected: str, came: str, *, row: int | None = None) -> Refused:
    """The error for a file that cannot be read at all."""
    return Refused(
        f"{file} was refused; nothing was added",
        (Fault(expected, came, file=file, row=row),),
    )
