"""The live trail: one file, many threads, always as it was last committed.

The file is touched through stdlib `sqlite3` alone (`layers.trail`). Each thread
borrows a connection. What the file holds is cached in memory and caught up when the
file shows a new commit: this process, another worker or a desktop GIS.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
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
        self._folding = threading.Lock()

    def open(self) -> None:
        """Open the file and read it.

        Raises
        ------
        NotATrail
            There is no such file, or it is not a trail file.
        """
        self._reader = Trail.open(self.path, busy_s=self._busy_s)
        try:
            self._watcher = Trail.open(self.path, busy_s=self._busy_s)
            self._folder = Trail.open(self.path, busy_s=self._busy_s)
            self._reader.changed()
            self._watcher.changed()
            self._contents = self._read(lambda: Contents.read(self._reader).caught_up(self._reader))
        except BaseException:
            self._reader.close()
            raise
        self.file_number = self._reader.file_number
        self._behind = False
        self._turn_day()
        self._reported_day = self._today

    def close(self) -> None:
        """Close every connection; the last one folds the write-ahead log into the file."""
        self._watcher.close()
        self._reader.close()
        with self._folding:
            self._folder.close()
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
        """What the file holds: never older than the last commit before the call.

        Raises
        ------
        EnvironmentFault
            The file can no longer be read, or holds nonsense.
        """
        with self._catching_up:
            self._follow_file()
            # What could not be read is tried again at the next call.
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
        """Whether the file changed or the day turned since the last call.

        Costs microseconds. Call it from one thread only.
        """
        # Others may have turned the day before this call.
        record, self._reported_day = self._reported_day, self.today()
        try:
            changed = self._watcher.changed() or not self._watcher.is_in_place()
            return changed or record != self._reported_day
        except EnvironmentFault:
            return True

    @contextmanager
    def borrowed(self) -> Iterator[Trail]:
        """A connection for this thread alone, until the block ends.

        Raises
        ------
        NotATrail
            The file is gone, or is no trail file any more.
        """
        trail = self._idle_one()
        if trail is None:
            self._refuse_if_gone()
            trail = Trail.open(self.path, busy_s=self._busy_s)
        try:
            yield trail
        finally:
            self._idle.put(trail)

    def fold_log(self) -> None:
        """Move into the file what a save left in its log while another program was reading."""
        with self._folding:
            self._folder.fold_log()

    def _idle_one(self) -> Trail | None:
        with suppress(Empty):
            while not (trail := self._idle.get_nowait()).is_in_place():
                trail.close()
            return trail
        return None

    def consistent(self, read: Callable[[Trail], T]) -> tuple[Contents, T]:
        """The contents, and what `read` gives from the file at that very version."""
        while True:
            contents = self.contents()
            with self.borrowed() as trail:
                found = read(trail)
                if trail.version() == contents.version:
                    return contents, found

    def _follow_file(self) -> None:
        """Go over to the file that is there now, if the one that was served is not."""
        if self._reader.is_in_place():
            return
        self._refuse_if_gone()
        # Closed first: the last connection to a file deletes what goes by its log's name.
        self.close()
        self.open()

    def _refuse_if_gone(self) -> None:
        if not self.path.exists():
            raise NotATrail(
                f"{self.path.name} is gone from its folder; put it back, and the server goes on"
                " by itself. Nothing was changed"
            )
