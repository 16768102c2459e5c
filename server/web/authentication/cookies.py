"""The cookie by which a device stays signed in."""

from __future__ import annotations

from datetime import datetime

from starlette.responses import Response

from server.web.base import base

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
    answer.set_cookie(
        name,
        token,
        max_age=min(MAX_DAYS_S, int((expires - now).total_seconds())),
        path=base() or "/",
        secure=secure,
        httponly=True,
        samesite="lax",
    )


def sign_out(answer: Response, *, name: str, secure: bool) -> None:
    """Have the browser forget it."""
    answer.delete_cookie(name, path=base() or "/", secure=secure, httponly=True, samesite="lax")
