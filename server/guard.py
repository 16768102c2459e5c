"""What stands in front of every request: who may ask, from where, and how much.

`Guard` is the outermost layer. It answers 421 to a host name that is not ours (a
page elsewhere could otherwise read the trail by pointing its own name at this
machine), 400 to an address that is none, 403 to a change that another site's page
asks for, 413 to a body too long and 408 to one too slow. `SecurityHeaders` stands
further in, so that a kept answer holds them.
"""

from __future__ import annotations

import asyncio
from collections.abc import Iterable, Mapping

from starlette.responses import Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from server.people.roles import ONLY_READ
from server.problems import problem_answer

MOST_BODY_BYTES = 256 * 1024
"""A visit takes about 1 kB; its note may be long."""

MOST_BODY_S = 30.0
"""Seconds in which a body must have come whole; a bad line sends a visit in a few."""

MOST_HOSTS_REMEMBERED = 64

CONTENT_POLICY = (
    "default-src 'self'; img-src 'self' data:; object-src 'none'; base-uri 'none'; "
    "frame-ancestors 'none'; form-action 'self'"
)
"""For every answer that does not bring a policy of its own."""

_FOR_ALL: Mapping[bytes, bytes] = {
    b"x-content-type-options": b"nosniff",
    b"cross-origin-resource-policy": b"same-origin",
}
_FOR_PAGES: Mapping[bytes, bytes] = {
    **_FOR_ALL,
    b"content-security-policy": CONTENT_POLICY.encode(),
    b"referrer-policy": b"same-origin",
    b"cross-origin-opener-policy": b"same-origin",
    b"permissions-policy": b"geolocation=(self), camera=(), microphone=()",
}
"""Headers that mean something for pages only are left out elsewhere: each costs time."""

PRIVATE = b"private, no-cache"
"""What a signed-in person is shown may be kept by their own browser alone, which asks
each time whether it still holds."""


def host_name(host: str) -> str:
    """The name in a `Host` header, without its port, in lower case."""
    if host.startswith("["):
        return host[1:].partition("]")[0].lower()
    return host.partition(":")[0].lower().rstrip(".")


class Guard:
    """The outermost layer: host, origin and length of a request."""

    def __init__(self, app: ASGIApp, *, hosts: frozenset[str], public_origin: str | None) -> None:
        self._app = app
        self._hosts = hosts
        self._public_origin = public_origin
        self._good_hosts: set[bytes] = set()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        host = b""
        for name, value in scope["headers"]:
            if name == b"host":
                host = value
                break
        if host not in self._good_hosts and not self._known(host):
            answer = problem_answer(
                scope, 421, f"Expected a host name of this server, got {_shown(host)!r}"
            )
            await refuse(answer, scope, receive, send)
        elif not scope["query_string"].isascii():
            # RFC 3986, 3.4: other signs are percent-encoded; libraries stumble over them.
            answer = problem_answer(scope, 400, "Expected an address of plain ASCII, got another")
            await refuse(answer, scope, receive, send)
        elif scope["method"] in ONLY_READ:
            await self._app(scope, receive, send)
        else:
            await self._change(host, scope, receive, send)

    def _known(self, host: bytes) -> bool:
        known = host_name(_shown(host)) in self._hosts
        if known and len(self._good_hosts) < MOST_HOSTS_REMEMBERED:
            self._good_hosts.add(host)
        return known

    async def _change(self, host: bytes, scope: Scope, receive: Receive, send: Send) -> None:
        headers = dict(scope["headers"])
        if not self._same_site(headers, host):
            answer = problem_answer(
                scope, 403, "Expected a form of this server, got one of another site"
            )
            await refuse(answer, scope, receive, send)
            return
        try:
            async with asyncio.timeout(MOST_BODY_S):
                body = await _whole_body(receive)
        except TimeoutError:
            answer = problem_answer(
                scope, 408, f"Expected the whole request within {MOST_BODY_S:g} seconds"
            )
            answer.headers["Connection"] = "close"
            await refuse(answer, scope, receive, send)
            return
        if body is None:
            answer = problem_answer(
                scope, 413, f"Expected at most {MOST_BODY_BYTES} bytes, got more"
            )
            await refuse(answer, scope, receive, send)
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


async def _whole_body(receive: Receive) -> bytes | None:
    """The body of a request; None where it is longer than `MOST_BODY_BYTES`."""
    parts: list[bytes] = []
    size = 0
    while True:
        message = await receive()
        if message["type"] != "http.request":
            return b""
        parts.append(message.get("body", b""))
        size += len(parts[-1])
        if size > MOST_BODY_BYTES:
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


async def refuse(answer: Response, scope: Scope, receive: Receive, send: Send) -> None:
    """Send the answer of a layer in front, which the security headers would else miss."""
    await SecurityHeaders(answer)(scope, receive, send)


def _private(headers: Iterable[tuple[bytes, bytes]]) -> list[tuple[bytes, bytes]]:
    """Headers of an answer to a signed-in person, which no cache between may keep."""
    told = [value for name, value in headers if name.lower() == b"cache-control"]
    if any(b"no-store" in value for value in told):
        return list(headers)
    rest = [each for each in headers if each[0].lower() != b"cache-control"]
    return [*rest, (b"cache-control", PRIVATE)]


class SecurityHeaders:
    """Adds to each answer the security headers that it does not bring itself."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                if "kept_for" in scope:
                    message["headers"] = _private(message["headers"])
                brought = {name.lower(): value for name, value in message["headers"]}
                is_page = brought.get(b"content-type", b"").startswith(b"text/html")
                headers = _FOR_PAGES if is_page else _FOR_ALL
                added = [(name, value) for name, value in headers.items() if name not in brought]
                message["headers"] = [*message["headers"], *added]
            await send(message)

        await self._app(scope, receive, with_headers if scope["type"] == "http" else send)
