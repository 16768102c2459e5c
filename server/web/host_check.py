"""The first layer of every request: its host name, where it comes from, and how much it sends.

`HostCheck` is the outermost layer. It answers 421 to a host name that is not ours (a
page elsewhere could otherwise read the trail by pointing its own name at this
machine), 400 to an address that is none, 403 to a change that another site's page
asks for, 413 to a body too long and 408 to one too slow.
"""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Mapping

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from server.web.authentication.roles import ONLY_READ
from server.web.headers import refuse
from server.web.problems import problem_answer

MAX_BODY_BYTES = 256 * 1024
"""A visit takes about 1 kB; its note may be long."""

MAX_FILE_BYTES = 8 * 1024 * 1024
"""A spreadsheet of visits that a person keeps by hand; it is handed in at `FILES_AT`."""

FILES_AT = "/import"

MAX_BODY_S = 30.0
"""Seconds in which a body must have come whole; a bad line sends a visit in a few."""

MAX_HOSTS_REMEMBERED = 64


def host_name(host: str) -> str:
    """The name in a `Host` header, without its port, in lower case."""
    if host.startswith("["):
        return host[1:].partition("]")[0].lower()
    return host.partition(":")[0].lower().rstrip(".")


class HostCheck:
    """The outermost layer: host, origin and length of a request."""

    def __init__(self, app: ASGIApp, *, hosts: frozenset[str], public_origin: str | None) -> None:
        self._app = app
        self._hosts = hosts
        self._public_origin = public_origin
        self._good_hosts: set[bytes] = set()

    def __call__(self, scope: Scope, receive: Receive, send: Send) -> Awaitable[None]:
        # No coroutine of its own for a reader who is let in: one would cost a cached answer
        # a hundredth of its time.
        if scope["type"] != "http":
            return self._app(scope, receive, send)
        host = b""
        for name, value in scope["headers"]:
            if name == b"host":
                host = value
                break
        if host not in self._good_hosts and not self._known(host):
            detail = f"Expected a host name of this server, got {_shown(host)!r}"
            return refuse(problem_answer(scope, 421, detail), scope, receive, send)
        if not scope["query_string"].isascii():
            # RFC 3986, 3.4: other signs are percent-encoded; libraries stumble over them.
            detail = "Expected an address of plain ASCII, got another"
            return refuse(problem_answer(scope, 400, detail), scope, receive, send)
        if scope["method"] in ONLY_READ:
            return self._app(scope, receive, send)
        return self._change(host, scope, receive, send)

    def _known(self, host: bytes) -> bool:
        known = host_name(_shown(host)) in self._hosts
        if known and len(self._good_hosts) < MAX_HOSTS_REMEMBERED:
            self._good_hosts.add(host)
        return known

    async def _change(self, host: bytes, scope: Scope, receive: Receive, send: Send) -> None:
        headers = dict(scope["headers"])
        # Of two origins one is made up, and which one counts is anybody's guess.
        origins = [name for name, _ in scope["headers"] if name == b"origin"]
        if len(origins) > 1 or not self._same_site(headers, host):
            detail = "Expected a form of this server, got one of another site"
            await refuse(problem_answer(scope, 403, detail), scope, receive, send)
            return
        try:
            async with asyncio.timeout(MAX_BODY_S):
                body = await _whole_body(receive, most=_most_bytes(scope))
        except TimeoutError:
            detail = f"Expected the whole request within {MAX_BODY_S:g} seconds"
            answer = problem_answer(scope, 408, detail)
            answer.headers["Connection"] = "close"
            await refuse(answer, scope, receive, send)
            return
        if body is None:
            detail = f"Expected at most {_most_bytes(scope)} bytes, got more"
            await refuse(problem_answer(scope, 413, detail), scope, receive, send)
            return
        await self._app(scope, _replayed(body, receive), send)

    def _same_site(self, headers: Mapping[bytes, bytes], host: bytes) -> bool:
        site = headers.get(b"sec-fetch-site")
        if site is not None and site not in (b"same-origin", b"none"):
            return False
        origin = headers.get(b"origin")
        if origin is None:
            # Programs that are no browser send neither header, and no one's cookies either.
            return site is not None or b"cookie" not in headers
        text = _shown(origin).lower()
        own = _shown(host).lower()
        return text in (f"http://{own}", f"https://{own}") or text == self._public_origin


def _shown(value: bytes) -> str:
    return value.decode("latin-1")


def _most_bytes(scope: Scope) -> int:
    return MAX_FILE_BYTES if scope["path"] == FILES_AT else MAX_BODY_BYTES


async def _whole_body(receive: Receive, *, most: int) -> bytes | None:
    """The body of a request; None where it is longer than `most` bytes."""
    parts: list[bytes] = []
    size = 0
    while True:
        message = await receive()
        if message["type"] != "http.request":
            return b""
        parts.append(message.get("body", b""))
        size += len(parts[-1])
        if size > most:
            return None
        if not message.get("more_body", False):
            return b"".join(parts)


def _replayed(body: bytes, receive: Receive) -> Receive:
    waiting = [body]

    async def replay() -> Message:
        if waiting:
            return {"type": "http.request", "body": waiting.pop(), "more_body": False}
        return await receive()

    return replay
