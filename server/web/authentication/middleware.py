"""Authentication: a request needs a key of the team, whatever its address.

It comes before cached responses and routing, so a new route is safe without
its author's help, and an outsider cannot distinguish an address that exists from one that
does not.

Costs 0.5 µs without signing in, 4 µs more for a signed-in person.
"""

from __future__ import annotations

import asyncio
import base64
import binascii
import logging
import math
import time
from collections.abc import Awaitable, Mapping
from contextlib import suppress
from dataclasses import replace
from datetime import timedelta
from urllib.parse import parse_qsl, urlencode

from anyio import to_thread
from starlette.responses import HTMLResponse, Response
from starlette.types import ASGIApp, Receive, Scope, Send

from layers.errors import EnvironmentFault
from server.live.clock import utc_now
from server.web.authentication.cookies import cookie_name, cookie_of
from server.web.authentication.limits import Buckets, network_of
from server.web.authentication.records import Key, Kind
from server.web.authentication.roles import LOCAL, ONLY_READ
from server.web.authentication.team import Team
from server.web.headers import refuse
from server.web.problems import STATUS, is_for_a_person, problem_answer
from server.web.templating import rendered

PUBLIC = frozenset({"/sign-in", "/open"})
"""Addresses that anybody may ask for."""

PUBLIC_BELOW = ("/static/", "/open/")
"""Beginnings of addresses that anybody may ask for."""

FOR_KEEPERS = "/open/preview"
"""Below the public pages, but made from what is not public."""

CALENDARS = frozenset({"/due.ics"})
"""Addresses that a calendar key opens: a calendar program sends no cookie, so the key is
in the address. It opens nothing else, only reads, and is revoked by itself."""

FOR_PROGRAMS = "/ogc"
"""Below this a password dialog is requested: a GIS knows no other way. Elsewhere it would
come up in a browser in the middle of a visit."""

SEEN_EVERY = timedelta(hours=1)
"""How often it is noted that a key is in use."""

SEEN_WAITS_S = 0.05
"""How long that waits for another writer before it is left for the next time."""

_log = logging.getLogger("boxround.server")


class Authentication:
    """Admits the people of a team, by cookie, program key or calendar key."""

    def __init__(self, app: ASGIApp, *, team: Team, public_https: bool) -> None:
        self._app = app
        self._team = team
        self._public_https = public_https
        self._looked = False
        # Turns are for people in the field: a phone may send a day's visits at once.
        self._unknown = Buckets(at_once=30, per_minute=30)
        self._sign_ins = Buckets(at_once=10, per_minute=10)
        self._changes = Buckets(at_once=200, per_minute=300)

    def __call__(self, scope: Scope, receive: Receive, send: Send) -> Awaitable[None]:
        # No coroutine of its own where signing in is not needed: one would cost a cached
        # answer a hundredth of its time.
        if scope["type"] != "http":
            return self._app(scope, receive, send)
        if not self._looked:
            self._look()
        if self._team.is_open:
            scope["person"] = LOCAL
            return self._app(scope, receive, send)
        return self._closed(scope, receive, send)

    async def _closed(self, scope: Scope, receive: Receive, send: Send) -> None:
        refused = await self._refusal(scope)
        if refused is None:
            await self._app(scope, receive, send)
        else:
            await refuse(refused, scope, receive, send)

    def _look(self) -> None:
        """Catch up with the side file once for all requests that have come by now."""
        self._team.refresh()
        self._looked = True
        asyncio.get_running_loop().call_soon(self._look_again)

    def _look_again(self) -> None:
        self._looked = False

    async def _refusal(self, scope: Scope) -> Response | None:
        """Why a request is not let in; None where it is, with its person in the scope."""
        changes = scope["method"] not in ONLY_READ
        if is_public(scope["path"]):
            wait_s = _turn(self._sign_ins, _network(scope)) if changes else 0
            return _come_later(scope, wait_s) if wait_s else None
        if self._team.trouble is not None:
            return _unreadable(scope, self._team.trouble)
        token, kind = self._presented(scope)
        if token is None:
            return signed_out(scope)
        try:
            key = self._team.key(token)
        except EnvironmentFault as trouble:
            return _unreadable(scope, trouble)
        if key is None or key.kind != kind:
            # Looked up first: whoever tries keys keeps no one of the team out, even where
            # all come from the one address of a proxy.
            wait_s = _turn(self._unknown, _network(scope))
            return _come_later(scope, wait_s) if wait_s else signed_out(scope)
        if key.revoked or key.expires <= utc_now():
            return signed_out(scope, was=key)
        wait_s = _turn(self._changes, key.person.number) if changes else 0
        if wait_s:
            return _come_later(scope, wait_s)
        await self._note(token, key)
        scope["person"] = key.person
        scope["key"] = key
        scope["cached_for"] = key.person.role
        return None

    def _presented(self, scope: Scope) -> tuple[str | None, Kind]:
        """The secret that a request brings, and the kind of key that belongs in its place."""
        if scope["path"] in CALENDARS and scope["method"] in ONLY_READ:
            token = _secret_of_calendar(scope)
            if token is not None:
                return token, "calendar"
        headers: Mapping[bytes, bytes] = dict(scope["headers"])
        stated = headers.get(b"authorization")
        if stated is not None:
            return _secret_stated(stated), "program"
        secure = is_secure(scope, public_https=self._public_https)
        name = cookie_name(self._team.mark, secure=secure)
        return cookie_of(headers.get(b"cookie", b""), name), "device"

    async def _note(self, token: str, key: Key) -> None:
        now = utc_now()
        if key.seen is not None and now - key.seen < SEEN_EVERY:
            return
        # Remembered first, so that requests that come meanwhile do not note it too.
        self._team.remember(token, replace(key, seen=now))
        # To note it is a courtesy; no one is kept out or waiting because it fails.
        with suppress(EnvironmentFault):
            await to_thread.run_sync(self._saw, key)

    def _saw(self, key: Key) -> None:
        with self._team.people(busy_s=SEEN_WAITS_S) as people:
            people.saw(key.number, now=utc_now())


def _turn(buckets: Buckets, key: object) -> float:
    """Take a turn; seconds to wait if there is none, else 0."""
    return buckets.take(key, now_s=time.monotonic())


def _network(scope: Scope) -> str:
    """Where a request comes from; behind a proxy of this machine, what that says."""
    return network_of((scope.get("client") or ("",))[0])


def is_public(path: str) -> bool:
    """Whether anybody may ask for an address."""
    if path == FOR_KEEPERS or path.startswith(f"{FOR_KEEPERS}/"):
        return False
    return path in PUBLIC or path.startswith(PUBLIC_BELOW)


def is_secure(scope: Scope, *, public_https: bool) -> bool:
    """Whether the browser talks to us over an encrypted line."""
    return public_https or scope["scheme"] == "https"


def signed_out(scope: Scope, *, was: Key | None = None) -> Response:
    """The answer to a request that is not signed in; `was` is a key that held once."""
    challenge = 'Bearer realm="boxround"'
    if scope["path"].startswith(FOR_PROGRAMS):
        challenge += ', Basic realm="boxround", charset="UTF-8"'
    if is_for_a_person(scope):
        page = rendered("signed_out.html", ended=was is not None)
        headers = {"Cache-Control": "no-store", "Vary": "Accept", "WWW-Authenticate": challenge}
        return HTMLResponse(page, 401, headers)
    detail = "Expected a person of the team: open your link on this device, or send a key"
    if was is not None:
        detail = "Your access has ended: ask the keeper for a new link"
    answer = problem_answer(scope, 401, detail)
    answer.headers["WWW-Authenticate"] = challenge
    return answer


def _unreadable(scope: Scope, trouble: EnvironmentFault) -> Response:
    _log.warning("%s", trouble)
    return problem_answer(scope, STATUS[type(trouble)], "Who may come in cannot be read")


def _come_later(scope: Scope, wait_s: float) -> Response:
    detail = "Expected fewer requests at a time, got too many: send again in a moment"
    answer = problem_answer(scope, 429, detail)
    answer.headers["Retry-After"] = str(max(1, math.ceil(wait_s)))
    return answer


def _secret_stated(header: bytes) -> str | None:
    """The secret in an `Authorization` header: a bearer's, or the password of Basic."""
    scheme, _, rest = header.decode("latin-1").partition(" ")
    if scheme.lower() == "bearer":
        return rest.strip()
    if scheme.lower() != "basic":
        return None
    try:
        _, _, password = base64.b64decode(rest, validate=True).decode().partition(":")
    except (binascii.Error, UnicodeDecodeError):
        return None
    return password


def _secret_of_calendar(scope: Scope) -> str | None:
    """The `token` of a calendar's address, which the app behind does not get to see."""
    query = parse_qsl(scope["query_string"].decode("latin-1"), keep_blank_values=True)
    tokens = [value for name, value in query if name == "token"]
    rest = [(name, value) for name, value in query if name != "token"]
    scope["query_string"] = urlencode(rest).encode()
    return tokens[0] if tokens else None
