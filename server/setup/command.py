"""The command that writes what a server of one's own needs, or checks it: setup."""

from __future__ import annotations

import argparse
import getpass
import shutil
import ssl
import sys
import urllib.error
import urllib.request
from collections.abc import Iterator, Mapping
from pathlib import Path

from layers.errors import BadValue, Conflict
from layers.trail.connection import expect_file
from server.live.clock import utc_now
from server.setup.files import ROOT_OF_CADDY, Server, folder_of, place_of
from server.terminal import print_table, writing
from server.web.authentication.team import expect_keeper

MISSING = 1
"""Exit code of a check that found something missing."""

_ANSWERS_S = 10.0
_SIGNED_OUT = 401


def _setup_arguments(command: argparse.ArgumentParser) -> None:
    kinds = command.add_subparsers(metavar="WHAT", required=True)
    server = kinds.add_parser("server", help="service, https and nightly backups, for Debian")
    server.add_argument(
        "trail", type=Path, metavar="TRAIL", help="the trail file, or a folder of trail files"
    )
    server.add_argument(
        "--domain", required=True, metavar="NAME", help="the name that phones reach it by"
    )
    server.add_argument(
        "--local", action="store_true", help="a name of a local network: own certificates"
    )
    server.add_argument("--port", type=int, default=8000, help="of this machine alone")
    server.add_argument(
        "--processes", type=int, default=1, metavar="N",
        help="of a folder: share its trails among so many, each on the port after the last",
    )  # fmt: skip
    server.add_argument(
        "--elsewhere", action="append", default=[], metavar="NAME=HOST:PORT",
        help="of a folder: a trail that another machine serves, in a network of your own",
    )  # fmt: skip
    server.add_argument("--user", default=None, help="whom the trail belongs to; else you")
    server.add_argument(
        "--backups", type=Path, metavar="FOLDER", help="else backups beside the trail"
    )
    server.add_argument(
        "-o", "--output", type=Path, default=Path("boxround-server"), metavar="FOLDER",
        help="where to write the files; nothing else on the machine is changed",
    )  # fmt: skip
    server.add_argument("--check", action="store_true", help="say what is missing; write nothing")
    server.add_argument(
        "--ca", type=Path, metavar="FILE", help="with --check: the root to trust, else the usual"
    )
    command.set_defaults(run=_setup)


def _setup(arguments: argparse.Namespace) -> int:
    trail = arguments.trail.resolve()
    if not trail.is_dir():
        expect_file(trail)
    server = Server(
        trail=trail,
        domain=arguments.domain,
        local=arguments.local,
        port=arguments.port,
        program=Path(shutil.which("boxround") or Path(sys.executable).with_name("boxround")),
        user=arguments.user or getpass.getuser(),
        backups=(arguments.backups or folder_of(trail) / "backups").absolute(),
        processes=arguments.processes,
        elsewhere=tuple(arguments.elsewhere),
    )
    if arguments.check:
        return _print_check(server, ca=arguments.ca)
    files, folder = server.files(), arguments.output.absolute()
    _write(files, folder)
    print(f"Wrote {', '.join(files)} into {folder}. Read them; then type:\n")
    print(*server.steps(folder), sep="\n")
    return 0


def _write(files: Mapping[str, str], folder: Path) -> None:
    with writing(folder):
        folder.mkdir(parents=True, exist_ok=True)
        for name, text in files.items():
            place = folder / name
            if place.exists() and place.read_text(encoding="utf-8") != text:
                raise Conflict(
                    f"Expected a new folder, got {folder}, which holds another {name}:"
                    " move it away, or choose another with -o"
                )
        for name, text in files.items():
            (folder / name).write_text(text, encoding="utf-8")


def _print_check(server: Server, *, ca: Path | None) -> int:
    rows = list(_looked_at(server, ca=ca))
    print_table(("", "subject", "what"), rows)
    return MISSING if any(state == "missing" for state, _, _ in rows) else 0


def _looked_at(server: Server, *, ca: Path | None) -> Iterator[tuple[str, str, str]]:
    """What is there and what is missing, in the order of the steps."""
    if shutil.which("caddy"):
        yield "good", "caddy", "installed"
    else:
        yield "missing", "caddy", "sudo apt-get install caddy"
    for name, text in server.files().items():
        place = Path(place_of(name)) / name
        if not place.is_file():
            yield "missing", name, f"is not in {place.parent}: write it with boxround setup server"
        elif place.read_text(encoding="utf-8") != text:
            yield "look", name, f"{place} differs from what setup would write"
        else:
            yield "good", name, str(place)
    for path, origin in server.trails():
        try:
            expect_keeper(path, now=utc_now())
            yield "good", "keeper", f"of {path.name}: a person can sign in and invite"
        except BadValue:
            what = f"boxround invite {path.name} --name YOUR-NAME --role keeper"
            yield "missing", "keeper", f"{what} --public-url {origin}"
    yield _https(server, ca=ca)


def _https(server: Server, *, ca: Path | None) -> tuple[str, str, str]:
    """Whether the trail answers by its name over https, to those alone who are signed in."""
    trusted = ssl.create_default_context(cafile=None if ca is None else str(ca))
    query = f"{server.trails()[0][1]}/health"
    try:
        urllib.request.urlopen(query, timeout=_ANSWERS_S, context=trusted).close()
    except urllib.error.HTTPError as error:
        error.close()
        if error.code == _SIGNED_OUT:
            return "good", "https", f"{server.origin} answers, and requires signing in"
        return "missing", "https", f"{query} answers with {error.code}: systemctl status boxround"
    except (OSError, ValueError) as error:
        reason = getattr(error, "reason", error)
        hint = f"; with --local, add --ca {ROOT_OF_CADDY}" if server.local and ca is None else ""
        return "missing", "https", f"{server.origin} does not answer: {reason}{hint}"
    return "missing", "https", f"{server.origin} lets anybody in: invite a keeper, start it again"


ARGUMENTS = {"setup": _setup_arguments}
