"""Closing connections over which nothing comes: each holds a place that another could use."""

from __future__ import annotations

import asyncio
import logging
from typing import Any

from uvicorn.protocols.http.httptools_impl import HttpToolsProtocol

_log = logging.getLogger("uvicorn.error.requests")
_log.setLevel(logging.ERROR)

IDLE_TIMEOUT_S = 15.0
"""Seconds; the head of a request has come whole after at most twice that, or the connection
is closed. A bad line takes a few seconds for it. Common practice, no source."""


class ProtocolWithIdleTimeout(HttpToolsProtocol):
    """Uvicorn's protocol, but a request that does not come ends its connection, and requests
    that are none, or want another protocol, write nothing into the log.

    Looked at once in a while, not at each request, so that it costs a request nothing.
    `HostCheck` limits the time for bodies.
    """

    _last: object = None

    def __init__(self, *given: Any, **named: Any) -> None:
        super().__init__(*given, **named)
        self.logger = _log

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        super().connection_made(transport)
        self._waits = self.loop.call_later(IDLE_TIMEOUT_S, self._look)

    def connection_lost(self, exc: Exception | None) -> None:
        self._waits.cancel()
        super().connection_lost(exc)

    def _look(self) -> None:
        request: Any = self.cycle
        idle = request is None or request.response_complete
        if idle and request is self._last:
            self.transport.close()
            return
        self._last = request
        self._waits = self.loop.call_later(IDLE_TIMEOUT_S, self._look)
