"""Before the first start on a machine: compile ahead in a process of its own, and say so.

Whoever opens a page meanwhile is shown how far it is, and is taken on to the page by itself.
"""

from __future__ import annotations

import socket
import subprocess
import sys
import threading
from collections.abc import Mapping
from contextlib import suppress
from typing import Any

import uvicorn
from starlette.responses import HTMLResponse, Response
from starlette.types import Receive, Scope, Send

from layers.errors import EnvironmentFault
from server.web.headers import SecurityHeaders
from server.web.problems import is_for_a_person, problem_answer
from server.web.templating import rendered

AGAIN_S = 3
"""Seconds after which the page asks again."""

_POLICY = "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; frame-ancestors 'none'"


class GettingReady:
    """An app that answers every request with how far the preparing is."""

    def __init__(self) -> None:
        self.lines: list[str] = []

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http":
            await self._answer(scope)(scope, receive, send)

    def _answer(self, scope: Scope) -> Response:
        headers = {"Retry-After": str(AGAIN_S), "Cache-Control": "no-store"}
        if not is_for_a_person(scope):
            answer = problem_answer(scope, 503, "The server is getting ready, once on this machine")
            answer.headers.update(headers)
            return answer
        page = rendered("getting_ready.html", lines=self.lines, again_s=AGAIN_S)
        return HTMLResponse(page, 503, {**headers, "Content-Security-Policy": _POLICY})


def prepare_meanwhile_answering(listening: socket.socket, how: Mapping[str, Any]) -> None:
    """Compile ahead, and answer on a socket that stays open until it is done.

    Raises
    ------
    EnvironmentFault
        It could not be compiled.
    """
    app = GettingReady()
    config = uvicorn.Config(SecurityHeaders(app), lifespan="off", **how)
    server = uvicorn.Server(config)
    words = [sys.executable, "-m", "server.live.prepare"]
    with subprocess.Popen(words, stderr=subprocess.PIPE, text=True) as process:

        def follow() -> None:
            for line in process.stderr or ():
                print(line, end="", flush=True)
                app.lines.append(line.strip())
            server.should_exit = True

        following = threading.Thread(target=follow)
        following.start()
        stopped = True
        try:
            # Its own handle of the socket, since a server closes what it listened on.
            with suppress(KeyboardInterrupt):
                server.run([listening.dup()])
                stopped = False
        finally:
            if stopped:
                process.terminate()
            following.join()
    if stopped:
        raise KeyboardInterrupt
    if process.returncode:
        raise EnvironmentFault("Preparing failed: run boxround prepare to see why")
