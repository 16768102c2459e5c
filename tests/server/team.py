"""A trail with a team: a keeper, two walkers, one who was revoked and one whose time is over."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from fastapi.testclient import TestClient

from server.web.authentication.cookies import cookie_name
from server.web.authentication.roles import Role
from server.web.authentication.store import People
from server.web.authentication.tokens import new_token

NOW = datetime(2026, 6, 3, 8, 0, tzinfo=UTC)


def device(people: People, name: str, role: Role, *, now: datetime, days: int = 30) -> str:
    """The secret of a device that a person signed in with."""
    link = people.invite(name, role=role, now=now, days=days).token
    _, token = people.exchange(link, device=new_token(), label="phone", now=now)
    return token


@dataclass(frozen=True)
class TeamClient:
    """A client of an app with a team, and what each of the team sends to be known."""

    client: TestClient
    trail: Path
    mark: str
    tokens: dict[str, str]

    def sent_by(self, who: str) -> dict[str, str]:
        """Headers of a browser: of one of the team, `stranger` with a made-up key, or nobody."""
        headers = {"Origin": str(self.client.base_url).rstrip("/")}
        if who != "nobody":
            name = cookie_name(self.mark, secure=False)
            headers["Cookie"] = f"{name}={self.tokens[who]}"
        return headers


def make_team(trail: Path) -> tuple[str, dict[str, str]]:
    """A team of everybody that matters; the mark of its file, and the secrets of devices."""
    now = datetime.now(UTC)
    long_ago = now - timedelta(days=400)
    with People.open_or_create(trail) as people:
        tokens = {
            "Wren": device(people, "Wren", Role.KEEPER, now=now),
            "Robin": device(people, "Robin", Role.WALKER, now=now),
            "Dipper": device(people, "Dipper", Role.WALKER, now=now),
            "Rook": device(people, "Rook", Role.KEEPER, now=now),
            "Swift": device(people, "Swift", Role.KEEPER, now=long_ago),
            "stranger": new_token(),
        }
        people.revoke("Rook", now=now)
        return people.mark, tokens
