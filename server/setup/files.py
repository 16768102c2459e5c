"""The files of a server of one's own, written from what is known of the trail and its domain."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from layers.errors import BadValue
from server.live.folder import ENDING, PREFIX, TRAIL_NAME, trails_in

_TEMPLATES = Environment(
    loader=FileSystemLoader(Path(__file__).parent / "templates"),
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
    keep_trailing_newline=True,
    # Configuration files, not HTML; what goes in is quoted by `_quoted`.
    autoescape=False,
)

PLACES: Mapping[str, str] = {
    "boxround.service": "/etc/systemd/system/",
    "boxround-backup.service": "/etc/systemd/system/",
    "boxround-backup.timer": "/etc/systemd/system/",
    "Caddyfile": "/etc/caddy/",
}
"""Name of each file -> the folder that Debian looks for it in."""

SERVICE = "boxround.service"

MAX_PROCESSES = 64

_ELSEWHERE = re.compile(rf"{TRAIL_NAME.pattern}=[A-Za-z0-9.-]+:\d{{1,5}}")

ROOT_OF_CADDY = "/var/lib/caddy/.local/share/caddy/pki/authorities/local/root.crt"
"""Where Debian's caddy stores the root of its own certificates."""


@dataclass(frozen=True)
class Server:
    """A server of one's own.

    Attributes
    ----------
    domain
        The name that phones reach it by.
    local
        Whether the name is of a local network, which no public authority certifies.
    trail
        Its file, or a folder of trails.
    program, user
        The `boxround` to run, and as whom.
    processes
        Among how many the trails of a folder are shared.
    elsewhere
        `NAME=HOST:PORT` of each trail that another machine serves.
    """

    trail: Path
    domain: str
    local: bool
    port: int
    program: Path
    user: str
    backups: Path
    processes: int = 1
    elsewhere: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.processes > 1 and not self.trail.is_dir():
            raise BadValue("a folder of trails", f"{self.trail.name}", column="processes")
        if not 1 <= self.processes <= MAX_PROCESSES:
            raise BadValue(f"1 to {MAX_PROCESSES}", f"{self.processes}", column="processes")
        if not self.trails():
            raise BadValue("a folder with trail files (NAME.gpkg)", f"{self.trail}", column="trail")
        for given in self.elsewhere:
            if _ELSEWHERE.fullmatch(given) is None:
                raise BadValue("NAME=HOST:PORT", repr(given), column="elsewhere")
        if re.fullmatch(r"[a-z0-9-]+(\.[a-z0-9-]+)+", self.domain) is None:
            raise BadValue(
                "a host name in lower case, such as trail.example.org or boxround.lan",
                repr(self.domain),
                column="domain",
            )

    @property
    def origin(self) -> str:
        """How a browser writes it."""
        return f"https://{self.domain}"

    @property
    def _sharing(self) -> str:
        processes = f" --processes {self.processes}" if self.processes > 1 else ""
        return processes + "".join(f" --elsewhere {given}" for given in self.elsewhere)

    def trails(self) -> list[tuple[Path, str]]:
        """Each trail's file, and the address at which people reach it."""
        if not self.trail.is_dir():
            return [(self.trail, self.origin)]
        return [
            (self.trail / f"{name}{ENDING}", f"{self.origin}{PREFIX}{name}")
            for name in trails_in(self.trail)[0]
        ]

    def files(self) -> dict[str, str]:
        """Name -> content of each file."""
        values = {
            "user": self.user,
            "program": _quoted(self.program),
            "trail": _quoted(self.trail),
            "folder": _quoted(folder_of(self.trail)),
            "backups": _quoted(self.backups),
            "domain": self.domain,
            "origin": self.origin,
            "local": self.local,
            "port": self.port,
            "shared": self._shared(),
        }
        files = {name: _TEMPLATES.get_template(name).render(values) for name in PLACES}
        for number in range(1, self.processes):
            of_process = values | {"port": self.port + number}
            unit = _TEMPLATES.get_template(SERVICE).render(of_process)
            files[f"boxround-{number + 1}.service"] = unit
        return files

    def _shared(self) -> list[tuple[str, str, list[str]]]:
        """Name, address and trails of each process but the first, which has all others."""
        names = trails_in(self.trail)[0] if self.trail.is_dir() else []
        away = [given.partition("=") for given in self.elsewhere]
        here = [name for name in names if name not in {name for name, _, _ in away}]
        beside = [
            (f"process{number + 1}", f"127.0.0.1:{self.port + number}", own)
            for number in range(1, self.processes)
            if (own := here[number :: self.processes])
        ]
        others = sorted({host for _, _, host in away})
        return beside + [
            (f"machine{number}", host, [name for name, _, at in away if at == host])
            for number, host in enumerate(others, start=2)
        ]

    def steps(self, written: Path) -> list[str]:
        """What to type, in order, once the files are in the folder `written`; `#` explains."""
        names = [name for name in self.files() if name != "Caddyfile"]
        units = " ".join(str(written / name) for name in names)
        started = " ".join(name for name in names if name != "boxround-backup.service")
        trail, origin = self.trails()[0]
        several = "" if trail == self.trail else "; the same for each trail"
        lines = [
            "# 1. Caddy, which brings https",
            "sudo apt-get install caddy",
            "# 2. The files to their places",
            f"sudo cp {units} /etc/systemd/system/",
            f"sudo cp {written / 'Caddyfile'} /etc/caddy/Caddyfile",
            f"# 3. A person who may invite others; open the link on your phone at the end{several}",
            f"boxround invite {trail} --name YOUR-NAME --role keeper --public-url {origin}",
            "# 4. Start it all, now and at every start of the machine",
            "sudo systemctl daemon-reload",
            f"sudo systemctl enable --now {started}",
            "sudo systemctl reload caddy",
        ]
        if self.local:
            lines += [
                f"# 5. Let your network's router know {self.domain} as this machine's address.",
                "# 6. Each phone trusts this machine's certificates once: send it this file,",
                f"#    {ROOT_OF_CADDY}",
                "#    Android: Settings, Security, Install a certificate, CA certificate.",
                "#    iPhone: open it, Settings, Profile Downloaded, Install; then General, About,",
                "#    Certificate Trust Settings, switch it on. (Menus as from memory.)",
            ]
        else:
            lines += [
                f"# 5. At your domain's provider, point {self.domain} at this machine's address,",
                "#    and let ports 80 and 443 through to it; Caddy then fetches its certificate.",
            ]
        return [
            *lines,
            "# Then see whether all is well",
            f"boxround setup server {self.trail} --domain {self.domain}"
            f"{' --local' if self.local else ''}{self._sharing} --check",
        ]


def place_of(name: str) -> str:
    """The folder that Debian looks for a file in."""
    return PLACES.get(name, PLACES[SERVICE])


def folder_of(trail: Path) -> Path:
    """Where a trail's file is; a folder of trails itself."""
    return trail if trail.is_dir() else trail.parent


def _quoted(path: Path) -> str:
    """A path as a unit file of systemd takes it."""
    text = str(path)
    if any(ord(letter) < 32 for letter in text):
        raise BadValue("a path without line ends", repr(text), column="trail")
    escaped = text.replace("\\", "\\\\").replace('"', '\\"').replace("%", "%%").replace("$", "$$")
    return f'"{escaped}"' if re.search(r'[\s"\\]', text) else escaped
