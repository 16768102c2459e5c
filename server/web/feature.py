"""What a feature folder says of itself, so that the app and the command line can take it in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType


@dataclass(frozen=True)
class Link:
    """A link to a feature's page; `prominent` ones stand at the head, all at the foot."""

    label: str
    address: str
    prominent: bool = False
    roomy: bool = False
    """At the head only where the screen is wide."""


@dataclass(frozen=True)
class Feature:
    """One folder of `server`.

    Attributes
    ----------
    name
        The folder, and what pages and templates ask for (`"winter" in features`).
    routers
        Its modules that hold a `router` of addresses.
    mounts
        Its modules that hold `mount(app)`, called after the routers of every feature: parts whose
        addresses depend on the settings, or would take those of others.
    commands
        Command -> what it is for; its `command` module has the arguments in `ARGUMENTS`.
    """

    name: str
    routers: tuple[str, ...] = ()
    mounts: tuple[str, ...] = ()
    commands: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    links: tuple[Link, ...] = ()

    def module(self, name: str) -> str:
        """The full name of one of its modules."""
        return f"server.{self.name}.{name}"
