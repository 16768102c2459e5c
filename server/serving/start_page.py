"""The first page of a folder of trails: a person's own ones, with what is due on each.

It knows of a trail what the trail's own app answers to the key that this device has for it, so
it shows a person what they may see and no more. Opening a trail takes some 0.2 s: the page shows
those that it could request within `LOOKING_S`, and loads again until it has all.
"""

from __future__ import annotations

import time
from collections.abc import Awaitable, Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import orjson
from anyio import to_thread
from starlette.datastructures import Headers
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.types import Message, Receive, Scope, Send

from server.live.clock import Clock
from server.live.folder import ENDING, PREFIX, file_state
from server.settings import ServerSettings
from server.web.authentication.cookies import cookie_name, keys_for_start
from server.web.authentication.middleware import is_secure
from server.web.authentication.side_file import people_path
from server.web.authentication.team import Team
from server.web.base import below
from server.web.templating import rendered

LOOKING_S = 0.7
"""Seconds for which trails are requested before the page shows those that it has."""

REMEMBERED_S = 300.0
"""Seconds for which a line is shown again while the trail's files are as they were."""

MAX_REMEMBERED = 2_000

_OF_CONNECTION = ("type", "asgi", "http_version", "scheme", "server", "client")


@dataclass(frozen=True)
class Line:
    """A trail of a person. `due` and `trouble` are None while it was not requested."""

    name: str
    title: str
    due: int | None = None
    urgent: int = 0
    trouble: str | None = None

    @property
    def is_known(self) -> bool:
        """Whether the trail has answered."""
        return self.due is not None or self.trouble is not None


class StartPage:
    """Gives the page to a request.

    Parameters
    ----------
    names
        Gives the names of all trails.
    call
        Has the trail of a name answer a request, whose scope has its base.
    title
        Gives the title of a trail that has just answered.
    """

    def __init__(
        self,
        settings: ServerSettings,
        *,
        names: Callable[[], Sequence[str]],
        call: Callable[[str, Scope, Receive, Send], Awaitable[None]],
        title: Callable[[str], str],
    ) -> None:
        self._settings = settings
        self._names = names
        self._call = call
        self._title = title
        self._remembered: dict[tuple[str, str], tuple[object, Line | None]] = {}

    async def answer(self, request: Request) -> Response:
        """The page for the person of a request."""
        secure = is_secure(request.scope, public_https=self._settings.public_https)
        keys = keys_for_start(request.cookies, secure=secure)
        names = await to_thread.run_sync(self._names)
        own = [name for name in names if self._settings.alone or name in keys]
        until_s = time.monotonic() + LOOKING_S
        lines: list[Line] = []
        for name in own:
            line = await self._line(request.scope, name, keys, secure=secure, until_s=until_s)
            if line is not None:
                lines.append(line)
        is_whole = all(line.is_known for line in lines)
        page = rendered("start.html", lines=lines, is_whole=is_whole, prefix=PREFIX)
        headers = {"Cache-Control": "no-store"} | ({} if is_whole else {"Refresh": "1"})
        return HTMLResponse(page, headers=headers)

    async def _line(
        self, scope: Scope, name: str, keys: Mapping[str, str], *, secure: bool, until_s: float
    ) -> Line | None:
        """A trail's line; None where this device's key opens nothing."""
        path, token = self._settings.trail / f"{name}{ENDING}", keys.get(name, "")
        state = await to_thread.run_sync(_state, path)
        known = self._remembered.get((name, token))
        if known is not None and known[0] == state:
            return known[1]
        if time.monotonic() > until_s:
            return Line(name, name)
        line = await self._requested(scope, name, path, token, secure=secure)
        if len(self._remembered) >= MAX_REMEMBERED:
            self._remembered.clear()
        self._remembered[name, token] = state, line
        return line

    async def _requested(
        self, scope: Scope, name: str, path: Path, token: str, *, secure: bool
    ) -> Line | None:
        base = f"{PREFIX}{name}"
        mark = await to_thread.run_sync(_mark, path)
        with below(base):
            cookie = f"{cookie_name(mark, secure=secure)}={token}"
        address = f"{base}/api/due"
        of_trail = {
            **{key: scope[key] for key in _OF_CONNECTION if key in scope},
            "method": "GET",
            "root_path": base,
            "path": address,
            "raw_path": address.encode(),
            "query_string": b"limit=1",
            "headers": [
                *((key, value) for key, value in scope["headers"] if key == b"host"),
                (b"cookie", cookie.encode("latin-1")),
            ],
            "state": {},
        }
        status, headers, body = await _answered(partial(self._call, name, of_trail))
        if status == 200:
            title = await to_thread.run_sync(self._title, name)
            due, urgent = (int(headers[of]) for of in ("x-total-count", "x-urgent-count"))
            return Line(name, title, due=due, urgent=urgent)
        if status == 503:
            return Line(name, name, trouble=orjson.loads(body)["detail"])
        return None


async def _answered(
    call: Callable[[Receive, Send], Awaitable[None]],
) -> tuple[int, Headers, bytes]:
    status, headers, parts = 0, Headers(), list[bytes]()

    async def receive() -> Message:
        return {"type": "http.request", "body": b"", "more_body": False}

    async def send(message: Message) -> None:
        nonlocal status, headers
        if message["type"] == "http.response.start":
            status, headers = message["status"], Headers(raw=message["headers"])
        else:
            parts.append(message.get("body", b""))

    await call(receive, send)
    return status, headers, b"".join(parts)


def _state(path: Path) -> object:
    """Changes with the trail, its team, and every few minutes, as days turn and keys end."""
    return Clock.now_s() // REMEMBERED_S, file_state(path, people_path(path))


def _mark(path: Path) -> str:
    team = Team(path, alone=False, busy_s=0.2)
    try:
        team.refresh()
        return team.mark
    finally:
        team.close()
