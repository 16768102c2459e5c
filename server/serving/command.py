"""The commands that serve the trail's pages: serve, demo, prepare."""

from __future__ import annotations

import argparse
import socket
import sys
from collections.abc import Mapping, Sequence
from contextlib import ExitStack, suppress
from datetime import date
from importlib import import_module
from pathlib import Path
from types import MappingProxyType
from typing import Any

import uvicorn
from pydantic import ValidationError
from uvicorn.supervisors import Multiprocess

from layers.errors import BadValue, EnvironmentFault
from layers.trail.store import Trail
from server.live.clock import utc_now
from server.live.folder import trails_in
from server.live.prepare import needs_preparing, prepare
from server.public.port import public_pages
from server.serving.folder import app_of
from server.serving.getting_ready import prepare_meanwhile_answering
from server.settings import ServerSettings, Tiles, to_environment
from server.terminal import add_day
from server.web.authentication.team import expect_keeper
from server.web.idle_timeout import ProtocolWithIdleTimeout

DEMO = Path("alderbeck.gpkg")
DEMO_DAY = date(2026, 6, 3)
"""The demo opens on a day in the middle of its last season."""


def _prepare_arguments(command: argparse.ArgumentParser) -> None:
    command.set_defaults(run=_prepare)


def _prepare(_asked: argparse.Namespace) -> int:
    prepare(lambda line: print(line, flush=True))
    print("Prepared." if not needs_preparing() else "Nothing can be stored on this machine.")
    return 0


def _demo_arguments(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "trail", type=Path, nargs="?", default=DEMO, metavar="TRAIL", help=f"else {DEMO}"
    )
    _add_serving(command)
    command.set_defaults(run=_demo)


def _demo(arguments: argparse.Namespace) -> int:
    if not arguments.trail.exists():
        print(f"Building the invented Alderbeck Reserve in {arguments.trail} ...", flush=True)
        import_module("data_demo.build").build_demo(arguments.trail)
    arguments.on = arguments.on or DEMO_DAY
    return _serve(arguments)


def _serve_arguments(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "trail", type=Path, metavar="TRAIL", help="a trail file, or a folder of trail files"
    )
    _add_serving(command)
    command.set_defaults(run=_serve)


def _add_serving(command: argparse.ArgumentParser) -> None:
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


_HOW: Mapping[str, Any] = MappingProxyType(
    {
        # No line for each request: it would show which person reads which page, and when.
        "access_log": False,
        "log_level": "warning",
        "server_header": False,
        "http": ProtocolWithIdleTimeout,
        "ws": "none",
        # A save under way is finished before the server stops, a stuck connection is not.
        "timeout_graceful_shutdown": 10,
    }
)


def _serve(arguments: argparse.Namespace) -> int:
    settings = _settings(arguments)
    if settings.trail.is_dir():
        _expect_trails(settings.trail)
        if arguments.public_port is not None:
            raise BadValue("one trail with --public-port", "a folder", column="public-port")
    else:
        # A file that is no trail, or has no keeper, is reported at once, not by each worker.
        Trail.open(settings.trail).close()
        if not settings.alone:
            expect_keeper(settings.trail, now=utc_now())
    with ExitStack() as running:
        listening = running.enter_context(_listening(settings.host, settings.port))
        address = _address(listening)
        if needs_preparing():
            print(f"Getting ready; {address} shows how far it is", flush=True)
            try:
                prepare_meanwhile_answering(listening, _HOW)
            except KeyboardInterrupt:
                return 0
        serving = f"Serving {settings.trail} on {address}"
        if settings.on is not None:
            serving += f", as known on {settings.on}"
        lines = [f"{serving}  (Ctrl-C stops it)"]
        if settings.public_url is not None and not settings.public_https:
            lines.append(
                f"{settings.public_url} is no https address: phones neither keep pages nor give"
                " their position there. See boxround setup server"
            )
        if arguments.public_port is not None:
            open_to_all = _listening(arguments.public_host or settings.host, arguments.public_port)
            lines.append(f"Public pages on {_address(open_to_all)}")
            named = (*settings.allowed_hosts, arguments.public_host or settings.host)
            public = settings.model_copy(update={"allowed_hosts": named})
            running.enter_context(public_pages(public, open_to_all, _HOW))
        _run(settings, listening, lines)
    return 0


def _expect_trails(folder: Path) -> None:
    """See that a folder holds trails, and print which files have no address."""
    names, nameless = trails_in(folder)
    if not names:
        raise BadValue("a folder with trail files (NAME.gpkg)", f"{folder}, which holds none")
    for name in nameless:
        print(
            f"{name} has no address: rename it, with letters, digits, dots, hyphens and"
            " underscores alone",
            file=sys.stderr,
        )


class _Announcing(uvicorn.Server):
    """A server that prints lines once it answers, not before."""

    def __init__(self, config: uvicorn.Config, lines: Sequence[str]) -> None:
        super().__init__(config)
        self._lines = lines

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Start, then print."""
        await super().startup(sockets)
        print(*self._lines, sep="\n", flush=True)


def _address(listening: socket.socket) -> str:
    host, port = listening.getsockname()[:2]
    return f"http://[{host}]:{port}/" if ":" in host else f"http://{host}:{port}/"


def _run(settings: ServerSettings, listening: socket.socket, lines: Sequence[str]) -> None:
    if settings.workers == 1:
        config = uvicorn.Config(app_of(settings), **_HOW)
        # Ctrl-C comes back as this once everything is closed.
        with suppress(KeyboardInterrupt):
            _Announcing(config, lines).run([listening])
        return
    to_environment(settings)
    config = uvicorn.Config(
        "server.serving.folder:app_from_environment", factory=True, workers=settings.workers, **_HOW
    )
    print(*lines, sep="\n", flush=True)
    Multiprocess(config, sockets=[listening]).run()


def _settings(arguments: argparse.Namespace) -> ServerSettings:
    if (arguments.tiles is None) != (arguments.tiles_by is None):
        raise BadValue("--tiles and --tiles-by together", "one of them", column="tiles")
    tiles = None
    try:
        if arguments.tiles is not None:
            tiles = Tiles(url=arguments.tiles, attribution=arguments.tiles_by)
        return ServerSettings(
            trail=arguments.trail.resolve(),
            host=arguments.host,
            port=arguments.port,
            workers=arguments.workers,
            on=arguments.on,
            tiles=tiles,
            public_url=arguments.public_url,
            allowed_hosts=tuple(arguments.allow_host),
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


ARGUMENTS = {"serve": _serve_arguments, "demo": _demo_arguments, "prepare": _prepare_arguments}
