"""Where the app is on its host: at the root, or below a base such as `/t/alderbeck`.

A server of many apps passes the base as `root_path`, and `path` begins with it (ASGI, HTTP
connection scope). Every route, page and layer in front is written as if the app were at the root.
The base is added in these places alone:

- `Boxround` takes it off each request before the layers in front of routing, which compare
  addresses, and puts it back for FastAPI;
- an address in an attribute of a template gets it when the template is compiled (`FromBase`);
- an address made in Python goes through `at`, one in a script through `/static/web/base.js`,
  which has it from the page's `data-base`;
- redirects get it on their way out, and cookies hold for it alone (`authentication/cookies.py`).

What is below `/static` belongs to the program and is the same for all apps of a host, so it is
requested without a base: browsers fetch it once, and scripts import each other by fixed addresses.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from jinja2.ext import Extension
from starlette.types import ASGIApp, Message, Receive, Scope, Send

STATIC = "/static/"

_BASE: ContextVar[str] = ContextVar("base", default="")
_ADDRESS = re.compile(r'(\s(?:href|src|action|formaction|data-\w+)=")/(?!static/)')


def base() -> str:
    """What precedes every address of the app that answers now; empty at the root of a host."""
    return _BASE.get()


def at(address: str) -> str:
    """An address of the app as a browser requests it."""
    return address if address.startswith(STATIC) else f"{base()}{address}"


def outside(origin: str) -> str:
    """Where others reach the app: scheme and host, and the base."""
    return f"{origin.rstrip('/')}{base()}"


class FromBase(Extension):
    """Puts `{{ app_base() }}` in front of the addresses that a template writes out."""

    def preprocess(self, source: str, name: str | None, filename: str | None = None) -> str:
        """The source of a template with the base in each of its addresses."""
        del name, filename
        return _ADDRESS.sub(r"\1{{ app_base() }}/", source)


@contextmanager
def below(app_base: str) -> Iterator[None]:
    """Make addresses for the app at a base while the block runs."""
    set_before = _BASE.set(app_base)
    try:
        yield
    finally:
        _BASE.reset(set_before)


async def call_below(front: ASGIApp, scope: Scope, receive: Receive, send: Send) -> None:
    """Call an app's layers in front with the address as it is within the app.

    `raw_path` stays whole: it is what answers are cached by.
    """
    own = scope["path"].removeprefix(scope["root_path"])
    # Not by `below`: that takes a tenth of the time of a cached answer.
    set_before = _BASE.set(scope["root_path"])
    try:
        await front({**scope, "path": own or "/"}, receive, send)
    finally:
        _BASE.reset(set_before)


async def call_routes(app: ASGIApp, scope: Scope, receive: Receive, send: Send) -> None:
    """Call what is behind these layers with the whole address, as FastAPI expects it."""

    async def with_base(message: Message) -> None:
        if message["type"] == "http.response.start":
            message["headers"] = [
                (name, at(value.decode("latin-1")).encode("latin-1"))
                if name == b"location" and value.startswith(b"/")
                else (name, value)
                for name, value in message["headers"]
            ]
        await send(message)

    await app({**scope, "path": f"{scope['root_path']}{scope['path']}"}, receive, with_base)
