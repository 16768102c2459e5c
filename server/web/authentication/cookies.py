"""The cookie by which a device stays signed in.

Below a base the cookie holds for that base. A second one then goes to the page that lists a
person's trails, so that it can ask each of them with the key that this device has.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from starlette.responses import Response

from server.web.base import base

START = "/start"
"""Where the page that lists a person's trails is, at the root of the host."""

MAX_DAYS_S = 400 * 86_400
"""Browsers store no cookie for longer (RFC 6265bis, 5.5)."""


def cookie_name(mark: str, *, secure: bool) -> str:
    """The cookie's name: another trail on the same host has another one.

    With `__Host-` a browser takes it from this host over an encrypted line alone, and for all of
    its addresses (RFC 6265bis, 4.1.3.2); that of an app below a base holds for the base, so it has
    `__Secure-`.
    """
    if not secure:
        return f"boxround-{mark}"
    return f"__Secure-boxround-{mark}" if base() else f"__Host-boxround-{mark}"


def cookie_of(header: bytes, name: str) -> str | None:
    """The value of one cookie in a `Cookie` header; None if it is not there."""
    wanted = name.encode()
    for part in header.split(b";"):
        found, equals, value = part.strip().partition(b"=")
        if equals and found == wanted:
            return value.decode("latin-1")
    return None


def keep_signed_in(
    answer: Response, token: str, *, name: str, secure: bool, expires: datetime, now: datetime
) -> None:
    """Have the browser send `token` with each request from now on."""
    for cookie, path in _cookies(name, secure=secure):
        answer.set_cookie(
            cookie,
            token,
            max_age=min(MAX_DAYS_S, int((expires - now).total_seconds())),
            path=path,
            secure=secure,
            httponly=True,
            samesite="lax",
        )


def sign_out(answer: Response, *, name: str, secure: bool) -> None:
    """Have the browser forget it."""
    for cookie, path in _cookies(name, secure=secure):
        answer.delete_cookie(cookie, path=path, secure=secure, httponly=True, samesite="lax")


def keys_for_start(cookies: Mapping[str, str], *, secure: bool) -> dict[str, str]:
    """Name of a trail, the last part of its base -> the key that this device has for it."""
    beginning = _name_for_start("", secure=secure)
    return {
        name.removeprefix(beginning): token
        for name, token in cookies.items()
        if name.startswith(beginning)
    }


def _cookies(name: str, *, secure: bool) -> list[tuple[str, str]]:
    """Name and path of each cookie."""
    if not base():
        return [(name, "/")]
    return [(name, base()), (_name_for_start(base().rpartition("/")[2], secure=secure), START)]


def _name_for_start(trail: str, *, secure: bool) -> str:
    return f"{'__Secure-' if secure else ''}boxround-start-{trail}"
