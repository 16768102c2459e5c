"""Every error that Boxround raises on purpose.

BoxroundError
├── CallerError            the request or the input cannot be used
│   ├── BadValue           one value: what was expected, what came, where
│   ├── Refused            a whole input refused, with every fault found in it
│   ├── NotKnown           no such box, visit, species, season or place
│   └── Conflict           the same id came with other content
└── EnvironmentFault       the file, the disk or another program is in the way
    ├── TrailBusy          another program holds the trail's lock
    ├── StorageFull        the disk has no room, or the file cannot be written
    └── NotATrail          the file is missing, damaged or not a trail file
"""

from __future__ import annotations

from dataclasses import dataclass


class BoxroundError(Exception):
    """Base of every error raised on purpose; its text is fit to show to a person."""


class CallerError(BoxroundError):
    """The request or the input cannot be used."""


class EnvironmentFault(BoxroundError):
    """The file, the disk or another program is in the way."""


@dataclass(frozen=True)
class Fault:
    """One thing wrong with an input.

    `row` counts as the person sees it: the header of a table is row 1, and the
    first feature of a vector file is row 1. `row` and `column` are None where
    the fault concerns the whole file.
    """

    expected: str
    came: str
    file: str | None = None
    row: int | None = None
    column: str | None = None

    def __str__(self) -> str:
        where = []
        if self.file is not None:
            where.append(self.file)
        if self.row is not None:
            where.append(f"row {self.row}")
        text = f"Expected {self.expected}, got {self.came}"
        if where:
            text += f" in {' '.join(where)}"
        if self.column is not None:
            text += f", column {self.column}"
        return text


class BadValue(CallerError):
    """One value that cannot be used; says what was expected, what came, and where."""

    def __init__(self, expected: str, came: str, *, column: str | None = None) -> None:
        self.fault = Fault(expected=expected, came=came, column=column)
        super().__init__(str(self.fault))


class Refused(CallerError):
    """A whole input refused: nothing of it was stored.

    `faults` holds every fault that was found, in the order of the input.
    """

    def __init__(self, summary: str, faults: tuple[Fault, ...]) -> None:
        self.summary = summary
        self.faults = faults
        super().__init__("\n".join([summary, *(f"  {fault}" for fault in faults)]))


class NotKnown(CallerError):
    """No such box, visit, species, season or place."""


class Conflict(CallerError):
    """The same id came again with other content."""


class TrailBusy(EnvironmentFault):
    """Another program holds the trail's lock; try again in a moment."""


class StorageFull(EnvironmentFault):
    """The disk has no room, or the trail file cannot be written."""


class NotATrail(EnvironmentFault):
    """The file is missing, damaged or not a trail file."""
