"""What every reader of foreign files gives: a header and rows, and what is wrong in them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from layers.errors import Fault, Refused

Progress = Callable[[int, int | None], None]
"""Called now and then with what is done and what there is in all (None = not known)."""

MAX_FAULTS = 1000
"""A file with the wrong date order has a fault in every row; a person reads a few."""

MAX_NOTES = 20


@dataclass(frozen=True)
class Row:
    """One row of a table or feature of a vector file, as it came.

    `cells` are in the order of the header and may be fewer. `shape` is a
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
        A row, or the fault in its place; read once.
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


class Findings:
    """Faults and notes of one file, in the order they were found."""

    def __init__(self) -> None:
        self._faults: list[Fault] = []
        self._fault_count = 0
        self._notes: list[str] = []
        self._note_count = 0

    def add_faults(self, faults: Iterable[Fault]) -> None:
        for fault in faults:
            self._fault_count += 1
            if len(self._faults) < MAX_FAULTS:
                self._faults.append(fault)

    def take_faults(self) -> list[Fault]:
        """The faults so far, which do not count any more."""
        faults, self._faults, self._fault_count = self._faults, [], 0
        return faults

    def add_note(self, note: str) -> None:
        self._note_count += 1
        if len(self._notes) < MAX_NOTES:
            self._notes.append(note)

    def notes(self) -> list[str]:
        """The notes, the last one counting those left out."""
        more = self._note_count - len(self._notes)
        return [*self._notes, *([f"and {more} more notes like these"] if more else [])]

    def refuse(self, file: str) -> None:
        """Raise `Refused` with the faults, if there are any."""
        if not self._fault_count:
            return
        summary = f"{file} was refused with {self._fault_count:,} faults; nothing was added"
        if self._fault_count == 1:
            summary = f"{file} was refused; nothing was added"
        if self._fault_count > MAX_FAULTS:
            summary += f" (the first {MAX_FAULTS:,} are listed)"
        raise Refused(summary, tuple(self._faults))
