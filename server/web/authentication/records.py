"""What the side file of people holds: invitations, keys, people and entries."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from server.web.authentication.roles import Person

Kind = Literal["device", "program", "calendar"]
"""What a key is for: a browser, a GIS or script, or a calendar that can only be read."""


@dataclass(frozen=True)
class Invitation:
    """A link's secret, shown once, and until when it and the access it gives hold."""

    person: Person
    token: str
    link_expires: datetime
    access_expires: datetime


@dataclass(frozen=True)
class Key:
    """A key that was found: whose it is, and whether it still opens anything."""

    number: int
    kind: Kind
    person: Person
    expires: datetime
    revoked: bool
    seen: datetime | None


@dataclass(frozen=True)
class Held:
    """A key as its owner sees it in a list."""

    number: int
    kind: Kind
    label: str
    made: datetime
    seen: datetime | None


@dataclass(frozen=True)
class Listed:
    """One person as the keeper sees them."""

    person: Person
    since: datetime
    expires: datetime
    revoked: datetime | None
    seen: datetime | None
    devices: int
    programs: int
    calendars: int

    def standing(self, now: datetime) -> str:
        """In a word or two: whether they can use the trail, and if not, why."""
        if self.revoked is not None:
            return "revoked"
        if self.expires <= now:
            return "expired"
        return "signed in" if self.devices or self.programs else "invited"


@dataclass(frozen=True)
class Entry:
    """Who entered a visit, and when."""

    person: Person
    entered: datetime
