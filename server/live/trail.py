"""The live trail: one file, many threads, always as it was last committed.

The file is touched through stdlib `sqlite3` alone (`layers.trail`). Each thread
borrows a connection. What the file holds is kept in memory and caught up when the
file says that somebody has committed: this process, another worker or a desktop GIS.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import TypeVar

from anyio import CapacityLimiter

from layers.errors import CallerError, EnvironmentFault, NotATrail
from layers.trail.store import Trail
from server.live.clock import Clock
from server.live.contents import Contents

T = TypeVar("T")

MAX_SAVING = 4
"""Threads that save at a time. SQLite lets one write; the others check meanwhile."""


class LiveTrail:
    """A trail file that a server answers from; `open` before use, `close` after.

    Parameters
    ----------
    busy_s
        How long a save waits while another program writes.
    """

    def __init__(self, path: Path, *, clock: Clock, busy_s: float) -> None:
        self.path = path
        self.clock = clock
        self._busy_s = busy_s
        self.savers = CapacityLimiter(MAX_SAVING)
        self._idle: SimpleQueue[Trail] = SimpleQueue()
        self._catching_up = threading.Lock()

    def open(self) -> None:
        """Open the file and read it.

        Raises
        ------
        NotATrail
            There is no such file, or it is not a trail file.
        """
        self.file_number = self.path.stat().st_ino if self.path.exists() else 0
        self._reader = Trail.open(self.path, busy_s=self._busy_s)
        self._watcher = Trail.open(self.path, busy_s=self._busy_s)
        self._reader.changed()
        self._watcher.changed()
        self._contents = self._read(lambda: Contents.read(self._reader).caught_up(self._reader))
        self._behind = False
        self._turn_day()
        self._told_day = self._today

    def close(self) -> None:
        """Close every connection; the last one folds the write-ahead log into the file."""
        self._watcher.close()
        self._reader.close()
        while True:
            try:
                self._idle.get_nowait().close()
            except Empty:
                return

    def _read(self, make: Callable[[], Contents]) -> Contents:
        try:
            return make()
        except CallerError as error:
            # A desktop GIS can write what no setting may hold; no caller is to blame.
            raise NotATrail(f"{self.path.name} holds what cannot be used: {error}") from error

    def _turn_day(self) -> None:
        zone = self._contents.settings.zone
        today = self.clock.today(zone)
        self._today, self._day_ends_s = today, self.clock.day_ends_s(today, zone)

    def contents(self) -> Contents:
        """What the file holds: never older than the last commit before this was asked.

        Raises
        ------
        EnvironmentFault
            The file can no longer be read, or holds nonsense.
        """
        with self._catching_up:
            self._same_file()
            # What could not be read is tried again by the next who asks.
            self._behind = self._reader.changed() or self._behind
            if self._behind:
                self._contents = self._read(lambda: self._contents.caught_up(self._reader))
                self._behind = False
                self._turn_day()
            return self._contents

    def today(self) -> date:
        """The day to show the trail as on."""
        if self.clock.now_s() >= self._day_ends_s:
            self._turn_day()
        return self._today

    def stale(self) -> bool:
        """Whether the file changed or the day turned since this was last asked.

        Costs microseconds. Ask from one thread only.
        """
        # Others may have turned the day before this was asked.
        told, self._told_day = self._told_day, self.today()
        try:
            return self._watcher.changed() or told != self._told_day
        except EnvironmentFault:
            return True

    @contextmanager
    def borrowed(self) -> Iterator[Trail]:
        """A connection for this thread alone, until the block ends."""
        self._same_file()
        try:
            trail = self._idle.get_nowait()
        except Empty:
            trail = Trail.open(self.path, busy_s=self._busy_s)
        try:
            yield trail
        finally:
            self._idle.put(trail)

    def consistent(self, read: Callable[[Trail], T]) -> tuple[Contents, T]:
        """The contents, and what `read` gives from the file at that very version."""
        while True:
            contents = self.contents()
            with self.borrowed() as trail:
                found = read(trail)
                if trail.version() == contents.version:
                    return contents, found

    def _same_file(self) -> None:
        # A save into a file that has been replaced would be lost with that file.
        # Only the name is looked up: opening the file would drop SQLite's locks.
        try:
            same = self.path.stat().st_ino == self.file_number
        except OSError:
            same = False
        if not same:
            raise NotATrail(
                f"{self.path.name} was moved or replaced while it was served: "
                "start the server again"
            )
