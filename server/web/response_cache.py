"""Cached responses: a page or data set requested again is sent at once, compressed already.

Is in front of routing. An answer is cached if its route gave it an `ETag`; all
are dropped as soon as the trail has changed or the day has turned, which is looked up
for every request. So a cached answer is never older than the last change before
the request came. One made for a keeper is never given to anybody else: `cached_for` of
the scope, which the gate sets, is part of its key.
"""

from __future__ import annotations

import asyncio
import gzip
import re
from collections.abc import Callable
from dataclasses import dataclass
from http import HTTPStatus

from anyio import to_thread
from starlette.types import ASGIApp, Message, Receive, Scope, Send

MAX_CACHED_BYTES = 256 * 1024 * 1024
"""Room for the answers of one process: about 50 data sets of 100,000 boxes."""

ANSWER_BYTES = 2_000
"""What an answer takes beside its body, measured: many small ones weigh more than they hold."""

MAX_CACHED_OPEN_BYTES = 64 * 1024 * 1024
"""Room for the answers that strangers may ask for."""

LEAST_COMPRESSED_BYTES = 400
"""A shorter body fits one network packet either way."""

COMPRESSION_LEVEL = 6
"""Of 1 to 9: beyond 6, gzip takes twice the time to save a hundredth."""

PACKED_LEVEL = 1
"""For packed columns: level 6 takes four times as long to save a tenth."""

MAX_ENCODINGS_REMEMBERED = 64

_COMPRESSIBLE = re.compile(rb"text/|[^;]*(json|javascript|xml|svg)|application/octet-stream")
_REFUSED = re.compile(r";\s*q=0(\.0*)?\s*$")
_ONLY_ABOUT_BODY = (b"content-length", b"content-type", b"content-encoding")

_Key = tuple[bytes, bytes, bool, str | None]


@dataclass(frozen=True)
class _Answer:
    tag: bytes
    start: Message
    body: Message
    unchanged: Message
    size: int


class _Room:
    """Cached answers and those being made; all are dropped when there is no room for one more."""

    def __init__(self, most_bytes: int) -> None:
        self.most_bytes = most_bytes
        self.drop()

    def drop(self) -> None:
        # New dictionaries, not emptied ones: a request on its way keeps into the old.
        self.cached: dict[_Key, _Answer] = {}
        self.making: dict[_Key, asyncio.Future[_Answer | None]] = {}
        self.size = 0

    def keep(self, key: _Key, answer: _Answer) -> None:
        if self.size + answer.size > self.most_bytes:
            self.drop()
        self.cached[key] = answer
        self.size += answer.size


class ResponseCache:
    """Answers reading requests from its cache, else asks the app and caches that answer.

    Parameters
    ----------
    changed
        Whether an answer given before may be out of date by now. Called in the event
        loop, so it must be quick.
    open_below
        Answers below this address are cached in a room of their own, so that strangers who
        ask for many push out none of the others; None = there are none.

    share
        Among how many caches the room is divided.

    Public answers have a cache of their own, so that strangers cannot push out the team's.
    An entry counts 2 kB beside its body, as measured. The `ETag` carries the day of the
    request, so an answer made while the day turned is not used for the new day.
    """

    def __init__(
        self,
        app: ASGIApp,
        *,
        changed: Callable[[], bool],
        open_below: str | None = None,
        share: int = 1,
    ) -> None:
        self._app = app
        self._changed = changed
        self._open_below = open_below or "no address"
        self._encodings: dict[bytes, bool] = {}
        self._room = _Room(MAX_CACHED_BYTES // share)
        self._open_room = _Room(MAX_CACHED_OPEN_BYTES // share)
        self._requested_by_all = False

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or scope["method"] not in ("GET", "HEAD"):
            await self._app(scope, receive, send)
            return
        encodings = seen = b""
        for name, value in scope["headers"]:
            if name == b"accept-encoding":
                encodings = value
            elif name == b"if-none-match":
                seen = value
        if not self._requested_by_all:
            self._ask_for_all()
        compress = self._encodings.get(encodings)
        if compress is None:
            compress = self._takes_gzip(encodings)
        key = (scope["raw_path"], scope["query_string"], compress, scope.get("cached_for"))
        answer = self._room.cached.get(key) or self._open_room.cached.get(key)
        if answer is None:
            answer = await self._made(key, scope, receive, send)
        if answer is None:
            return
        if seen and (answer.tag in seen or seen == b"*"):
            await send(answer.unchanged)
            await send(_NO_BODY)
        else:
            await send(answer.start)
            await send(answer.body if scope["method"] == "GET" else _NO_BODY)

    def _ask_for_all(self) -> None:
        """Ask whether anything changed, for every request that has come by now.

        The event loop runs what is scheduled in turn. A request that is handled before
        the call below was scheduled before it, so it had come before that look.
        """
        if self._changed():
            self._room.drop()
            self._open_room.drop()
        self._requested_by_all = True
        asyncio.get_running_loop().call_soon(self._ask_again)

    def _ask_again(self) -> None:
        self._requested_by_all = False

    def _takes_gzip(self, encodings: bytes) -> bool:
        parts = encodings.decode("latin-1").lower().split(",")
        takes = any(
            part.split(";")[0].strip() in ("gzip", "*") and not _REFUSED.search(part)
            for part in parts
        )
        if len(self._encodings) < MAX_ENCODINGS_REMEMBERED:
            self._encodings[encodings] = takes
        return takes

    async def _made(self, key: _Key, scope: Scope, receive: Receive, send: Send) -> _Answer | None:
        """The answer of the app, cached; None where it was sent on as it came.

        Requests for the same answer wait for the first of them. They joined after
        the last known change and so did it, hence its answer is not too old.
        """
        is_open = scope["path"].startswith(self._open_below)
        room = self._open_room if is_open else self._room
        under_way = room.making.get(key)
        if under_way is not None:
            answer = await asyncio.shield(under_way)
            if answer is not None:
                return answer
        cached, making = room.cached, room.making
        future: asyncio.Future[_Answer | None] = asyncio.get_running_loop().create_future()
        making[key] = future
        answer = None
        try:
            answer = await self._asked(key, scope, receive, send)
            if answer is not None and cached is room.cached:
                room.keep(key, answer)
        finally:
            future.set_result(answer)
            if making.get(key) is future:
                del making[key]
        return answer

    async def _asked(self, key: _Key, scope: Scope, receive: Receive, send: Send) -> _Answer | None:
        start: Message | None = None
        parts: list[bytes] = []
        complete = False

        async def collect(message: Message) -> None:
            nonlocal start, complete
            if message["type"] == "http.response.start":
                if message["status"] == HTTPStatus.OK and _tag(message) is not None:
                    start = message
                    return
            elif start is not None:
                parts.append(message.get("body", b""))
                complete = not message.get("more_body", False)
                return
            if scope["method"] == "HEAD" and message["type"] == "http.response.body":
                message = {**message, "body": b""}
            await send(message)

        await self._app({**scope, "method": "GET"}, receive, collect)
        # A file's answer ends early where its client hung up: the next one must not get half of it.
        if start is None or not complete:
            return None
        return await to_thread.run_sync(_prepared, start, b"".join(parts), key)


_WHO_REQUESTS = b", Cookie, Authorization"
_NO_BODY: Message = {"type": "http.response.body", "body": b"", "more_body": False}


def _tag(start: Message) -> bytes | None:
    """The quoted part of an answer's `ETag`."""
    for name, value in start["headers"]:
        if name.lower() == b"etag":
            tag: bytes = value.removeprefix(b"W/")
            return tag
    return None


def _prepared(start: Message, body: bytes, key: _Key) -> _Answer:
    _, _, compress, cached_for = key
    headers = {name.lower(): value for name, value in start["headers"]}
    if (
        compress
        and len(body) >= LEAST_COMPRESSED_BYTES
        and _COMPRESSIBLE.match(headers.get(b"content-type", b""))
    ):
        packed = headers[b"content-type"].startswith(b"application/octet-stream")
        body = gzip.compress(body, PACKED_LEVEL if packed else COMPRESSION_LEVEL, mtime=0)
        headers[b"content-encoding"] = b"gzip"
    headers[b"content-length"] = str(len(body)).encode()
    headers[b"vary"] = b"Accept-Encoding" + (b"" if cached_for is None else _WHO_REQUESTS)
    headers[b"etag"] = b"W/" + (_tag(start) or b"")
    headers.setdefault(b"cache-control", b"no-cache")
    unchanged = [item for item in headers.items() if item[0] not in _ONLY_ABOUT_BODY]
    return _Answer(
        tag=_tag(start) or b"",
        start={**start, "headers": list(headers.items())},
        body={"type": "http.response.body", "body": body, "more_body": False},
        unchanged={
            "type": "http.response.start",
            "status": HTTPStatus.NOT_MODIFIED.value,
            "headers": unchanged,
        },
        size=len(body) + ANSWER_BYTES,
    )
