"""The files of a server of one's own, written from what is known of the trail and its domain."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from layers.errors import BadValue

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
    program, user
        The `boxround` to run, and as whom.
    """

    trail: Path
    domain: str
    local: bool
    port: int
    program: Path
    user: str
    backups: Path

    def __post_init__(self) -> None:
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

    def files(self) -> dict[str, str]:
        """Name -> content of each file."""
        values = {
            "user": self.user,
            "program": _quoted(self.program),
            "trail": _quoted(self.trail),
            "folder": _quoted(self.trail.parent),
            "backups": _quoted(self.backups),
            "domain": self.domain,
            "origin": self.origin,
            "local": self.local,
            "port": self.port,
        }
        return {name: _TEMPLATES.get_template(name).render(values) for name in PLACES}

    def steps(self, written: Path) -> list[str]:
        """What to type, in order, once the files are in the folder `written`; `#` explains."""
        units = " ".join(str(written / name) for name in PLACES if name != "Caddyfile")
        lines = [
            "# 1. Caddy, which brings https",
            "sudo apt-get install caddy",
            "# 2. The files to their places",
            f"sudo cp {units} /etc/systemd/system/",
            f"sudo cp {written / 'Caddyfile'} /etc/caddy/Caddyfile",
            "# 3. A person who may invite others; open the link on your phone at the end",
            f"boxround invite {self.trail} --name YOUR-NAME --role keeper"
            f" --public-url {self.origin}",
            "# 4. Start it all, now and at every start of the machine",
            "sudo systemctl daemon-reload",
            "sudo systemctl enable --now boxround.service boxround-backup.timer",
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
            f"{' --local' if self.local else ''} --check",
        ]


def _quoted(path: Path) -> str:
    """A path as a unit file of systemd takes it."""
    text = str(path)
    if any(ord(letter) < 32 for letter in text):
        raise BadValue("a path without line ends", repr(text), column="trail")
    escaped = text.replace("\\", "\\\\").replace('"', '\\"').replace("%", "%%").replace("$", "$$")
    return f'"{escaped}"' if re.search(r'[\s"\\]', text) else escaped
