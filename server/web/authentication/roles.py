"""Who may do what: roles, the person of a request, and how a route says whom it is for.

The gate (`server.web.authentication.middleware`) lets in only people whom it knows. Behind it a
walker may read everything and change nothing, unless a route declares otherwise
with `ANYBODY`, `WALKER` or `KEEPER_ONLY` among its dependencies. A keeper may do everything.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated, Any

from fastapi import Depends, HTTPException, Request
from fastapi.params import Depends as Dependency

ONLY_READ = ("GET", "HEAD", "OPTIONS")
"""Methods that change nothing (RFC 9110, 9.2.1: safe)."""

ACCESS: Mapping[str, Mapping[str, Any]] = {
    "password": {
        "type": "http",
        "scheme": "basic",
        "description": "A program's key as the password, with any user name.",
    },
    "key": {"type": "http", "scheme": "bearer", "description": "A program's key."},
}
"""How the team's programs sign in."""


class Role(StrEnum):
    """What a person may do on a trail."""

    WALKER = "walker"
    KEEPER = "keeper"


@dataclass(frozen=True)
class Person:
    """A person of the team; `number` is None for the person at this machine without a team."""

    number: int | None
    name: str
    role: Role

    def may(self, role: Role) -> bool:
        """Whether they may do what is for `role`."""
        return self.role is Role.KEEPER or role is Role.WALKER


LOCAL = Person(None, "", Role.KEEPER)
"""Whoever uses a server without a team that only its own machine can reach."""


class NotAllowed(HTTPException):
    """The person is known, and this is not theirs to do."""

    def __init__(self, detail: str) -> None:
        super().__init__(403, detail)


class SignedOut(HTTPException):
    """No one is signed in."""

    def __init__(self) -> None:
        super().__init__(401, "Expected a person of the team, got no one who is signed in")


def who(request: Request) -> Person:
    """The person of a request; the gate found them. `SignedOut` on an address open to all."""
    person: Person | None = request.scope.get("person")
    if person is None:
        raise SignedOut
    return person


async def _who(request: Request) -> Person:
    return who(request)


Who = Annotated[Person, Depends(_who)]
"""The person of a request, for a route's parameters."""


@dataclass(frozen=True)
class Needs:
    """A dependency of the routes that are for one role; None = for anybody."""

    role: Role | None

    async def __call__(self, request: Request) -> None:
        if self.role is None:
            return
        person = who(request)
        if not person.may(self.role):
            raise NotAllowed(f"Only a {self.role} may do this, and you are a {person.role}")


ANYBODY: Any = Depends(Needs(None))
WALKER: Any = Depends(Needs(Role.WALKER))
KEEPER_ONLY: Any = Depends(Needs(Role.KEEPER))


def _declares(dependencies: Iterable[Dependency]) -> bool:
    return any(isinstance(each.dependency, Needs) for each in dependencies)


async def changes_are_for_keepers(request: Request) -> None:
    """Dependency of the whole app: a change is for keepers where its route does not say."""
    if request.method not in ONLY_READ and not _declares(request.scope["route"].dependencies):
        await Needs(Role.KEEPER)(request)
