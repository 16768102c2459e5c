"""What was found in a file so far: faults and notes, each counted, the first ones kept."""

from __future__ import annotations

from collections.abc import Iterable

from layers.errors import Fault, Refused

FAULTS_KEPT = 1000
"""A file with the wrong date order has a fault in every row; nobody reads a million."""

NOTES_KEPT = 20


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
            if len(self._faults) < FAULTS_KEPT:
                self._faults.append(fault)

    def add_note(self, note: str) -> None:
        self._note_count += 1
        if len(self._notes) < NOTES_KEPT:
            self._notes.append(note)

    def notes(self) -> list[str]:
        """The notes, the last one telling how many more there were."""
        more = self._note_count - len(self._notes)
        return [*self._notes, *([f"and {more} more notes like these"] if more else [])]

    def refuse(self, file: str) -> None:
        """Raise `Refused` with the faults, if there are any."""
        if not self._fault_count:
            return
        summary = f"{file} was refused with {self._fault_count:,} faults; nothing was added"
        if self._fault_count == 1:
            summary = f"{file} was refused; nothing was added"
        if self._fault_count > FAULTS_KEPT:
            summary += f" (the first {FAULTS_KEPT:,} are listed)"
        raise Refused(summary, tuple(self._faults))
