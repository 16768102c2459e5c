"""Settings of a server at its start: the trail, where it listens, which hosts are allowed."""

from __future__ import annotations

import ipaddress
import os
import re
from datetime import date
from pathlib import Path
from typing import Annotated
from urllib.parse import urlsplit

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

ENVIRONMENT = "BOXROUND_SERVER"
"""Environment variable that carries the settings, as JSON, to worker processes."""

LOOPBACK_NAMES = ("127.0.0.1", "localhost", "::1")
EVERY_ADDRESS = ("0.0.0.0", "::", "")

MAX_PLANNING = 2
"""Rounds planned at a time by one process; later requests wait without a thread."""


def is_origin(text: str) -> bool:
    """Whether text is a scheme and a host, such as `https://trail.example.org`."""
    try:
        return re.fullmatch(r"https?://[^/?#\s]+/?", text) is not None and bool(
            urlsplit(text).hostname
        )
    except ValueError:
        # Brackets that hold no address.
        return False


def _origin(text: str) -> str:
    if not is_origin(text):
        raise ValueError("expected an address like https://trail.example.org")
    return text


class Tiles(BaseModel):
    """Background map pictures from another server; none are fetched unless this is set."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    url: Annotated[str, Field(pattern=r"^https?://[^/\s]+/.*\{z\}")]
    attribution: Annotated[str, Field(min_length=1)]


class ServerSettings(BaseModel):
    """Settings of one server.

    Attributes
    ----------
    on
        Show the trail as on this day; None = today in the trail's time zone.
    public_url
        How people reach the server where a proxy is in front of it.
    allowed_hosts
        Host names that are allowed, besides loopback names, `host` and
        the one of `public_url`.
    busy_s
        Seconds a save waits while another program writes to the trail.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    trail: Path
    """A trail's file, or a folder of trails."""
    host: str = "127.0.0.1"
    port: Annotated[int, Field(ge=0, le=65535)] = 8000
    workers: Annotated[int, Field(ge=1, le=64)] = 1
    on: date | None = None
    tiles: Tiles | None = None
    public_url: Annotated[str, AfterValidator(_origin)] | None = None
    allowed_hosts: tuple[str, ...] = ()
    busy_s: Annotated[float, Field(gt=0, le=60)] = 10.0

    @property
    def hosts(self) -> frozenset[str]:
        """Every host name that a request may be addressed to, in lower case."""
        names = {*LOOPBACK_NAMES, *self.allowed_hosts}
        if self.host not in EVERY_ADDRESS:
            names.add(self.host)
        if self.public_url is not None:
            names.add(urlsplit(self.public_url).hostname or "")
        return frozenset(name.lower() for name in names)

    @property
    def alone(self) -> bool:
        """Whether only people at this machine can reach the server.

        A public address or a further host name says that a proxy is in front.
        """
        named = self.public_url is not None or bool(self.allowed_hosts)
        return not named and (self.host == "localhost" or _is_loopback(self.host))

    @property
    def public_https(self) -> bool:
        """Whether people reach the server over an encrypted line."""
        return (self.public_origin or "").startswith("https://")

    @property
    def public_origin(self) -> str | None:
        """Scheme and host of `public_url`, as a browser sends it in `Origin`."""
        return None if self.public_url is None else self.public_url.rstrip("/").lower()


def _is_loopback(host: str) -> bool:
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def to_environment(settings: ServerSettings) -> None:
    """Leave the settings where worker processes look for them."""
    os.environ[ENVIRONMENT] = settings.model_dump_json()


def from_environment() -> ServerSettings:
    """The settings that `to_environment` left."""
    return ServerSettings.model_validate_json(os.environ[ENVIRONMENT])
