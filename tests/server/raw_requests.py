"""Requests byte for byte, such as no client would send them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any
from urllib.parse import unquote

from fastapi import FastAPI


@dataclass(frozen=True)
class RawRequest:
    """A request as its bytes say, such as no client would send it."""

    method: str
    raw_path: bytes
    query: bytes = b""
    body: bytes = b""
    headers: tuple[tuple[bytes, bytes], ...] = ()


async def answers_to(app: FastAPI, requests: Iterable[RawRequest]) -> list[tuple[int, bytes]]:
    """Status and body of the answer to each, one after another."""
    answers = []
    async with app.router.lifespan_context(app):
        for request in requests:
            answers.append(await answer_to(app, request))
    return answers


async def answer_to(app: FastAPI, request: RawRequest) -> tuple[int, bytes]:
    """What a server makes of these bytes is what uvicorn makes of them."""
    scope = {
        "type": "http",
        "asgi": {"version": "3.0"},
        "http_version": "1.1",
        "method": request.method,
        "scheme": "http",
        "path": unquote(request.raw_path.decode("ascii")),
        "raw_path": request.raw_path,
        "root_path": "",
        "query_string": request.query,
        "headers": [(b"host", b"127.0.0.1"), *request.headers],
        "client": ("127.0.0.1", 1),
        "server": ("127.0.0.1", 80),
        "state": {},
    }
    status, parts = 0, []

    async def receive() -> dict[str, Any]:
        return {"type": "http.request", "body": request.body, "more_body": False}

    async def send(message: Any) -> None:
        nonlocal status
        if message["type"] == "http.response.start":
            status = message["status"]
        else:
            parts.append(message.get("body", b""))

    await app(scope, receive, send)
    return status, b"".join(parts)
