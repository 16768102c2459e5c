"""Keep the trail's file whole by itself while it is served.

A save folds the write-ahead log into the file before it is acknowledged (`Trail.write`), as
far as no program reads an older state just then, and a desktop GIS that saves folds nothing. What
is left is folded here, so that a copy of the file alone misses nothing.
"""

from __future__ import annotations

import threading

from server.live.trail import LiveTrail

EVERY_S = 0.4
"""With the time that folding takes, what is acknowledged is in the file within a second."""


class LogFolding:
    """A thread that looks at the log again and again."""

    def __init__(self, live: LiveTrail) -> None:
        self._live = live
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._fold, name="log folding")

    def start(self) -> None:
        """Begin."""
        self._thread.start()

    def stop(self) -> None:
        """End it, and wait until it has ended."""
        self._over.set()
        self._thread.join()

    def _fold(self) -> None:
        while not self._over.wait(EVERY_S):
            self._live.fold_log()
