"""The cells of one row, taken one by one while every fault is collected."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any, TypeVar

from layers.errors import BadValue, Fault
from layers.trail.bring.values import SPREADSHEET_ERRORS, is_blank, said

T = TypeVar("T")


@dataclass(frozen=True)
class RowRead:
    """What became of one row.

    Attributes
    ----------
    values
        The clean row, ready for `Trail.add_rows`; None where there are faults.
    faults
        Every fault of the row, in the order of the columns.
    notes
        What was decided on the way and a person may want to know.
    """

    values: Mapping[str, Any] | None
    faults: tuple[Fault, ...] = ()
    notes: tuple[str, ...] = ()


class Cells:
    """Raw cells of one row by our column names, and the faults found in them so far."""

    def __init__(self, raw: Mapping[str, object], *, row: int | None, file: str | None) -> None:
        self._raw = raw
        self._row = row
        self._file = file
        self.faults: list[Fault] = []

    def fault(self, expected: str, came: str, column: str | None = None) -> None:
        """Note a fault of this row."""
        self.faults.append(Fault(expected, came, file=self._file, row=self._row, column=column))

    def has(self, column: str) -> bool:
        """Whether the cell says something."""
        return not is_blank(self._raw.get(column))

    def take(self, column: str, parse: Callable[[object], T]) -> T | None:
        """The value of a cell; None where it is blank, or where a fault was noted."""
        value = self._raw.get(column)
        if is_blank(value):
            return None
        if isinstance(value, str) and "#" in value and value.strip() in SPREADSHEET_ERRORS:
            self.fault("a value", f"the spreadsheet error {value.strip()}", column)
            return None
        try:
            return parse(value)
        except BadValue as error:
            self.faults.append(replace(error.fault, file=self._file, row=self._row, column=column))
            return None

    def need(self, column: str, parse: Callable[[object], T], *, expected: str) -> T | None:
        """The value of a cell that may not be blank; None where a fault was noted."""
        if not self.has(column):
            came = self._raw.get(column)
            self.fault(expected, "nothing" if came is None else said(came), column)
            return None
        return self.take(column, parse)

    def read(self, values: Mapping[str, Any], *, notes: tuple[str, ...] = ()) -> RowRead:
        """The row as read: its values if there was no fault."""
        faults = tuple(self.faults)
        return RowRead(None if faults else values, faults, notes)
