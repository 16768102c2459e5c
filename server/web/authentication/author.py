"""Whose hand a visit is: what they may correct, and the note of what they entered."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Annotated

from fastapi import Depends, Request

from server.web.authentication.roles import NotAllowed, Person, Role, who
from server.web.authentication.team import Team


@dataclass(frozen=True)
class Author:
    """A person who records a visit; the trail holds the observer, the side file the author."""

    person: Person
    team: Team

    def expect_own(self, visit_id: str) -> None:
        """See that they may correct a visit: a keeper any, a walker what they entered.

        Raises
        ------
        NotAllowed
            Another person entered it.
        """
        if self.person.role is Role.KEEPER:
            return
        with self.team.people() as people:
            entry = people.entries([visit_id]).get(visit_id)
        if entry is None or entry.person.number != self.person.number:
            raise NotAllowed("A walker corrects their own visits, and another person entered this")

    def enter(self, visit_id: str, *, now: datetime) -> None:
        """Note that they enter a visit; see `People.enter` for when."""
        if self.person.number is not None:
            with self.team.people() as people:
                people.enter(visit_id, by=self.person, now=now)


def the_team(request: Request) -> Team:
    team: Team = request.app.state.team
    return team


async def _author(request: Request) -> Author:
    return Author(who(request), the_team(request))


Writing = Annotated[Author, Depends(_author)]
"""The person who records a visit, for a route's parameters."""
