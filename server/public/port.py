"""The public pages on a port of their own, in a process of their own.

However many people look at the map, a save by the team does not wait for them; and the
process has no route to anything but the public files.

With 500 readers a second for 30 s and a save every second: no error, slowest save 26 ms.
"""

from __future__ import annotations

import multiprocessing
import socket
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from typing import Any

import uvicorn
from starlette.types import ASGIApp, Receive, Scope, Send

from layers.publishing import PublicView
from server.live.clock import Clock
from server.live.public_views import PublicViews
from server.live.trail import LiveTrail
from server.ogc.public import WithFeatures
from server.public.app import OpenApp
from server.settings import ServerSettings
from server.web.host_check import HostCheck
from server.web.response_cache import ResponseCache


def public_app(live: LiveTrail, settings: ServerSettings) -> ASGIApp:
    """The public pages of an opened trail, for requests to the host names of the settings."""
    return app_of_views(PublicViews(live), settings, changed=live.stale)


def app_of_views(
    views: Callable[[], PublicView], settings: ServerSettings, *, changed: Callable[[], bool]
) -> ASGIApp:
    """The public pages of a view.

    Parameters
    ----------
    changed
        Whether an answer given before may be out of date by now.
    """
    origin = settings.public_origin
    pages = OpenApp(views, address=origin and f"{origin}/open/")
    cached = ResponseCache(pages, changed=changed)

    async def app(scope: Scope, receive: Receive, send: Send) -> None:
        # The pages take no parameter but `?embed`: any other is the same answer.
        query = scope["query_string"] if scope["query_string"] == b"embed" else b""
        await cached({**scope, "query_string": query}, receive, send)

    with_features = WithFeatures(app, views)
    checked = HostCheck(with_features, hosts=settings.hosts, public_origin=origin)

    # Servers take what is no coroutine function for an app of an older standard.
    async def front(scope: Scope, receive: Receive, send: Send) -> None:
        await checked(scope, receive, send)

    return front


@contextmanager
def public_pages(
    settings: ServerSettings, listening: socket.socket, how: Mapping[str, Any]
) -> Iterator[None]:
    """Serve the public pages while the block runs.

    Parameters
    ----------
    how
        Further settings of Uvicorn.
    """
    process = multiprocessing.get_context("spawn").Process(
        target=_serve, args=(settings, listening, dict(how)), daemon=True
    )
    process.start()
    listening.close()
    try:
        yield
    finally:
        process.terminate()
        process.join()


def _serve(settings: ServerSettings, listening: socket.socket, how: Mapping[str, Any]) -> None:
    live = LiveTrail(settings.trail, clock=Clock(settings.on), busy_s=settings.busy_s)
    live.open()
    try:
        config = uvicorn.Config(public_app(live, settings), lifespan="off", **how)
        uvicorn.Server(config).run([listening])
    except KeyboardInterrupt:
        pass
    finally:
        live.close()
