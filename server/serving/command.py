"""The command that serves the trail's pages: serve."""

from __future__ import annotations

import argparse
import socket
from collections.abc import Callable, Mapping
from contextlib import ExitStack, suppress
from types import MappingProxyType
from typing import Any

import uvicorn
from pydantic import ValidationError
from uvicorn.supervisors import Multiprocess

from layers.errors import BadValue, EnvironmentFault
from layers.trail.store import Trail
from server.app import create_app
from server.live.clock import utc_now
from server.public.port import public_pages
from server.settings import ServerSettings, Tiles, to_environment
from server.terminal import add_day, add_trail
from server.web.authentication.team import expect_keeper
from server.web.idle_timeout import PatientProtocol


def _serve_arguments(command: argparse.ArgumentParser) -> None:
    add_trail(command)
    command.add_argument("--host", default="127.0.0.1", help="address to listen on")
    command.add_argument("--port", type=int, default=8000, help="0 = any that is free")
    command.add_argument("--workers", type=int, default=1, help="how many processes answer")
    command.add_argument(
        "--public-port",
        type=int,
        metavar="N",
        help="also serve the public pages alone on this port; 0 = any that is free",
    )
    command.add_argument(
        "--public-host", metavar="HOST", help="address to listen on for them; else as --host"
    )
    add_day(command)
    command.add_argument("--tiles", metavar="URL", help="online map tiles beneath everything")
    command.add_argument(
        "--tiles-by", metavar="TEXT", help="whose tiles they are; shown on the map"
    )
    command.add_argument("--public-url", metavar="URL", help="how people reach this server")
    command.add_argument(
        "--allow-host",
        action="append",
        default=[],
        metavar="NAME",
        help="a further name or address that people reach this server by",
    )
    command.set_defaults(run=_serve)


_HOW: Mapping[str, Any] = MappingProxyType(
    {
        # No line for each request: it would tell who looked at what, and when.
        "access_log": False,
        "log_level": "warning",
        "server_header": False,
        "http": PatientProtocol,
        "ws": "none",
        # A save under way is finished before the server stops, a stuck connection is not.
        "timeout_graceful_shutdown": 10,
    }
)


def _serve(asked: argparse.Namespace) -> int:
    settings = _settings(asked)
    # A file that is no trail, or has no keeper, is told at once, not by each worker.
    Trail.open(settings.trail).close()
    if not settings.alone:
        expect_keeper(settings.trail, now=utc_now())
    with ExitStack() as running:
        listening = running.enter_context(_listening(settings.host, settings.port))
        print(f"Serving {settings.trail} on {_address(listening)}  (Ctrl-C stops it)", flush=True)
        if asked.public_port is not None:
            open_to_all = _listening(asked.public_host or settings.host, asked.public_port)
            print(f"Public pages on {_address(open_to_all)}", flush=True)
            running.enter_context(public_pages(settings, open_to_all, _HOW))
        _run(settings, listening)
    return 0


def _address(listening: socket.socket) -> str:
    host, port = listening.getsockname()[:2]
    return f"http://[{host}]:{port}/" if ":" in host else f"http://{host}:{port}/"


def _run(settings: ServerSettings, listening: socket.socket) -> None:
    if settings.workers == 1:
        config = uvicorn.Config(create_app(settings), **_HOW)
        # Ctrl-C comes back as this once everything is closed.
        with suppress(KeyboardInterrupt):
            uvicorn.Server(config).run([listening])
        return
    to_environment(settings)
    config = uvicorn.Config(
        "server.app:app_from_environment",
        factory=True,
        workers=settings.workers,
        **_HOW,
    )
    Multiprocess(config, sockets=[listening]).run()


def _settings(asked: argparse.Namespace) -> ServerSettings:
    if (asked.tiles is None) != (asked.tiles_by is None):
        raise BadValue("--tiles and --tiles-by together", "one of them", column="tiles")
    tiles = None
    try:
        if asked.tiles is not None:
            tiles = Tiles(url=asked.tiles, attribution=asked.tiles_by)
        return ServerSettings(
            trail=asked.trail.resolve(),
            host=asked.host,
            port=asked.port,
            workers=asked.workers,
            on=asked.on,
            tiles=tiles,
            public_url=asked.public_url,
            allowed_hosts=tuple(asked.allow_host),
        )
    except ValidationError as error:
        first = error.errors()[0]
        name = ".".join(str(part) for part in first["loc"])
        raise BadValue(first["msg"], repr(first["input"]), column=name) from error


def _listening(host: str, port: int) -> socket.socket:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listening = socket.socket(family)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((host, port))
    except OverflowError as error:
        listening.close()
        raise BadValue("a port from 0 to 65535", f"{port}", column="port") from error
    except (OSError, TypeError) as error:
        listening.close()
        reason = getattr(error, "strerror", None) or "that is no name of a host"
        raise EnvironmentFault(f"Cannot listen on {host} port {port}: {reason}") from error
    listening.listen(2048)
    return listening


ARGUMENTS: Mapping[str, Callable[[argparse.ArgumentParser], None]] = MappingProxyType(
    {"serve": _serve_arguments}
)
