"""A real server in a thread of the test's own process: up at once, for tests that kill nothing."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

import uvicorn

from server.serving.command import _HOW, _address, _listening
from server.serving.folder import app_of
from server.settings import ServerSettings

STARTED_WITHIN_S = 60.0


@dataclass(frozen=True)
class Served:
    """Where an app answers."""

    address: str
    """Without a slash at its end."""


@contextmanager
def served(settings: ServerSettings) -> Iterator[Served]:
    """An app on a free port of this machine, as `boxround serve` runs it."""
    how = {**_HOW, "timeout_graceful_shutdown": 1, "log_level": "critical"}
    with _listening("127.0.0.1", 0) as listening:
        server = uvicorn.Server(uvicorn.Config(app_of(settings), **how))
        thread = threading.Thread(target=server.run, args=([listening],))
        thread.start()
        try:
            until = time.monotonic() + STARTED_WITHIN_S
            while not server.started:
                assert thread.is_alive() and time.monotonic() < until, "the server did not start"
                time.sleep(0.01)
            yield Served(_address(listening).rstrip("/"))
        finally:
            server.should_exit = True
            thread.join()
