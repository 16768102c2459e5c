"""The security headers of every answer, also of those that layers in front give."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from starlette.responses import Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

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
"""What a signed-in person is shown may be cached by their own browser alone, which checks
each time whether it still holds."""


async def refuse(answer: Response, scope: Scope, receive: Receive, send: Send) -> None:
    """Send the answer of a layer in front, which the security headers would else miss."""
    await SecurityHeaders(answer)(scope, receive, send)


def _private(headers: Iterable[tuple[bytes, bytes]]) -> list[tuple[bytes, bytes]]:
    """Headers of an answer to a signed-in person, which no cache between may store."""
    record = [value for name, value in headers if name.lower() == b"cache-control"]
    if any(b"no-store" in value for value in record):
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
                if "cached_for" in scope:
                    message["headers"] = _private(message["headers"])
                brought = {name.lower(): value for name, value in message["headers"]}
                is_page = brought.get(b"content-type", b"").startswith(b"text/html")
                headers = _FOR_PAGES if is_page else _FOR_ALL
                added = [(name, value) for name, value in headers.items() if name not in brought]
                message["headers"] = [*message["headers"], *added]
            await send(message)

        await self._app(scope, receive, with_headers if scope["type"] == "http" else send)
