"""Kept answers: given again while nothing changed, and no more of them than there is room for."""

from __future__ import annotations

import asyncio
from pathlib import Path

import pytest
from starlette.responses import FileResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from server.web.response_cache import ANSWER_BYTES, ResponseCache
from tests.server.running import in_own_thread


class Small:
    """An app of small answers, and what it was asked."""

    def __init__(self) -> None:
        self.asked: list[bytes] = []
        self.changes = False

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        self.asked.append(scope["query_string"])
        await Response(b"small", headers={"ETag": 'W/"one"'})(scope, receive, send)

    def changed(self) -> bool:
        return self.changes


async def ask(hot: ASGIApp, query: str, *, path: str = "/") -> bytes:
    sent: list[Message] = []

    async def receive() -> Message:
        return {"type": "http.request", "body": b"", "more_body": False}

    async def send(message: Message) -> None:
        sent.append(message)

    scope = {
        "type": "http",
        "method": "GET",
        "path": path,
        "raw_path": path.encode(),
        "query_string": query.encode(),
        "headers": [],
    }
    await hot(scope, receive, send)
    return b"".join(message.get("body", b"") for message in sent)


def test_an_answer_is_made_once_while_nothing_changes() -> None:
    async def run() -> None:
        app = Small()
        hot = ResponseCache(app, changed=app.changed)
        assert [await ask(hot, "a") for _ in range(3)] == [b"small"] * 3
        assert app.asked == [b"a"]
        app.changes = True
        await asyncio.sleep(0)
        assert await ask(hot, "a") == b"small"
        assert app.asked == [b"a", b"a"]

    in_own_thread(run())


def test_many_small_answers_fill_the_room_for_cached_ones(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("server.web.response_cache.MAX_CACHED_BYTES", 5 * ANSWER_BYTES)

    async def run() -> None:
        app = Small()
        hot = ResponseCache(app, changed=app.changed)
        for query in ("a", "b", "c", "d", "e", "a"):
            await ask(hot, query)
        assert app.asked == [b"a", b"b", b"c", b"d", b"e", b"a"]

    in_own_thread(run())


def test_who_asks_for_many_open_answers_pushes_out_none_of_the_others(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("server.web.response_cache.MAX_CACHED_BYTES", 5 * ANSWER_BYTES)
    monkeypatch.setattr("server.web.response_cache.MAX_CACHED_OPEN_BYTES", 2 * ANSWER_BYTES)

    async def run() -> None:
        app = Small()
        hot = ResponseCache(app, changed=app.changed, open_below="/open/")
        await ask(hot, "team")
        for at in range(50):
            await ask(hot, f"stranger {at}", path="/open/")
        assert await ask(hot, "team") == b"small"
        assert app.asked.count(b"team") == 1
        # An address that only begins alike is not below it.
        await ask(hot, "once", path="/opening")
        for at in range(5):
            await ask(hot, f"more {at}", path="/open/")
        await ask(hot, "once", path="/opening")
        assert app.asked.count(b"once") == 1

    in_own_thread(run())


def test_an_answer_that_ended_early_is_not_given_to_the_next(tmp_path: Path) -> None:
    """A file whose client hung up: Starlette stops sending it."""
    file = tmp_path / "module.js"
    file.write_bytes(b"export const here = 1;\n")
    hot = ResponseCache(FileResponse(file, headers={"ETag": 'W/"one"'}), changed=lambda: False)
    scope = {
        "type": "http",
        "method": "GET",
        "path": "/module.js",
        "raw_path": b"/module.js",
        "query_string": b"",
        "headers": [],
    }

    sent: list[Message] = []

    async def gone() -> Message:
        return {"type": "http.disconnect"}

    async def there() -> Message:
        await asyncio.Event().wait()
        raise AssertionError

    async def ignored(message: Message) -> None:
        pass

    async def collected(message: Message) -> None:
        sent.append(message)

    async def twice() -> bytes:
        await hot(scope, gone, ignored)
        await hot(scope, there, collected)
        return b"".join(message.get("body", b"") for message in sent)

    assert in_own_thread(twice()) == file.read_bytes()
