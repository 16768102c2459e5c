"""The people of a trail: who they are, their keys, and what they entered."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from hmac import compare_digest
from pathlib import Path
from typing import Any, Self, get_args

from layers.errors import BadValue, Conflict, EnvironmentFault, NotKnown
from layers.trail.connection import connect, transaction
from server.web.authentication.records import Entry, Held, Invitation, Key, Kind, Listed
from server.web.authentication.roles import Person, Role
from server.web.authentication.side_file import FORMAT, create, people_path, people_translated
from server.web.authentication.tokens import device_token, digest, new_token

LINK_DAYS = 7
"""A link is opened soon or was lost on the way. Common practice, no source."""

ACCESS_DAYS = 365
"""One season and the preparing of the next, unless the keeper says otherwise."""

MAX_ACCESS_DAYS = 3650
LONGEST_NAME = 80
MAX_KEYS = 50
"""Keys of one person; a device that signs in beyond them ends the one longest unseen."""


class People:
    """An open side file; one connection, for one thread at a time."""

    def __init__(self, path: Path, connection: sqlite3.Connection) -> None:
        self.path = path
        self._connection = connection
        self._seen_data_version = -1

    @classmethod
    def open(cls, trail: Path, *, busy_s: float = 10.0) -> Self:
        """Open the people of a trail.

        Raises
        ------
        NotKnown
            No one was ever invited to this trail.
        EnvironmentFault
            The file is damaged, or is something else.
        """
        path = people_path(trail)
        if not path.is_file():
            raise NotKnown(
                f"Expected a person invited to {trail.name}, got no one so far: "
                "boxround invite makes a link"
            )
        with people_translated(path):
            connection = connect(path, busy_s=busy_s)
        people = cls(path, connection)
        try:
            found = people._rows("SELECT format FROM about")
        except EnvironmentFault:
            people.close()
            raise
        if found != [(FORMAT,)]:
            people.close()
            raise EnvironmentFault(f"Expected {path.name} in the form {FORMAT!r}, got {found!r}")
        return people

    @classmethod
    def open_or_create(cls, trail: Path, *, busy_s: float = 10.0) -> Self:
        """Open the people of a trail; where there are none, an empty file for its owner alone."""
        path = people_path(trail)
        if not path.exists():
            create(path)
        return cls.open(trail, busy_s=busy_s)

    def close(self) -> None:
        self._connection.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *raised: object) -> None:
        self.close()

    def _rows(self, sql: str, values: Sequence[Any] = ()) -> list[tuple[Any, ...]]:
        with people_translated(self.path):
            return self._connection.execute(sql, values).fetchall()

    @contextmanager
    def _write(self) -> Iterator[sqlite3.Connection]:
        with people_translated(self.path), transaction(self._connection):
            yield self._connection

    # Reading

    def changed(self) -> bool:
        """Whether another connection has committed since the last call."""
        ((number,),) = self._rows("PRAGMA data_version")
        before, self._seen_data_version = self._seen_data_version, number
        return bool(number != before)

    @property
    def mark(self) -> str:
        """What distinguishes this file from that of another trail; no secret."""
        mark: str = self._rows("SELECT mark FROM about")[0][0]
        return mark

    def anybody(self) -> bool:
        """Whether anybody was ever invited, also if they may no longer come."""
        return bool(self._rows("SELECT 1 FROM people LIMIT 1"))

    def has_keeper(self, *, now: datetime) -> bool:
        """Whether there is a keeper whose access holds."""
        sql = "SELECT 1 FROM people WHERE role = 'keeper' AND revoked_at ISNULL AND expires_at > ?"
        return bool(self._rows(sql, (_stored(now),)))

    def everyone(self) -> list[Listed]:
        """Everybody who was ever invited: those who may come first, then by name."""
        rows = self._rows(
            "SELECT person, name, role, invited_at, expires_at, revoked_at, max(keys.seen_at),"
            " coalesce(sum(kind = 'device'), 0), coalesce(sum(kind = 'program'), 0),"
            " coalesce(sum(kind = 'calendar'), 0)"
            " FROM people LEFT JOIN keys USING (person) GROUP BY person"
            " ORDER BY revoked_at NOTNULL, name COLLATE NOCASE, person"
        )
        return [
            Listed(
                Person(row[0], row[1], Role(row[2])),
                since=_moment(row[3]),
                expires=_moment(row[4]),
                revoked=row[5] and _moment(row[5]),
                seen=row[6] and _moment(row[6]),
                devices=row[7],
                programs=row[8],
                calendars=row[9],
            )
            for row in rows
        ]

    def keys_of(self, person: Person) -> list[Held]:
        """The keys of one person, newest first."""
        rows = self._rows(
            "SELECT key, kind, label, made_at, seen_at FROM keys WHERE person = ?"
            " ORDER BY key DESC",
            (person.number,),
        )
        return [
            Held(number, kind, label, _moment(made), seen and _moment(seen))
            for number, kind, label, made, seen in rows
        ]

    def key(self, hashed: bytes) -> Key | None:
        """The key of this hash, whether or not it still holds; None if there is none."""
        rows = self._rows(
            "SELECT hash, key, kind, person, name, role, expires_at, revoked_at, seen_at"
            " FROM keys JOIN people USING (person) WHERE hash = ?",
            (hashed,),
        )
        if not rows or not compare_digest(rows[0][0], hashed):
            return None
        _, number, kind, person, name, role, expires, revoked, seen = rows[0]
        return Key(
            number,
            kind,
            Person(person, name, Role(role)),
            expires=_moment(expires),
            revoked=revoked is not None,
            seen=seen and _moment(seen),
        )

    def entries(self, visit_ids: Iterable[str]) -> dict[str, Entry]:
        """Who entered these visits; one that no person of the team entered is left out."""
        found: dict[str, Entry] = {}
        for visit_id in visit_ids:
            for person, name, role, entered in self._rows(
                "SELECT person, name, role, entered_at FROM entries JOIN people USING (person)"
                " WHERE visit_id = ?",
                (visit_id,),
            ):
                found[visit_id] = Entry(Person(person, name, Role(role)), _moment(entered))
        return found

    # Writing

    def invite(
        self, name: str, *, role: Role, now: datetime, days: int = ACCESS_DAYS
    ) -> Invitation:
        """A link for one device of a person, who is added as `admit` does."""
        person, access_expires = self.admit(name, role=role, now=now, days=days)
        token = new_token()
        link_expires = min(now + timedelta(days=LINK_DAYS), access_expires)
        with self._write() as connection:
            connection.execute(
                "INSERT INTO links (hash, person, expires_at) VALUES (?, ?, ?)",
                (digest(token), person.number, _stored(link_expires)),
            )
        return Invitation(person, token, link_expires, access_expires)

    def admit(
        self, name: str, *, role: Role, now: datetime, days: int = ACCESS_DAYS
    ) -> tuple[Person, datetime]:
        """A person with a role and access for some days from now, and until when.

        A person of that name who is there already gets this role and these days.

        Raises
        ------
        BadValue
            The name is empty, too long or not printable, or `days` is out of range.
        """
        name = _name(name)
        if not 1 <= days <= MAX_ACCESS_DAYS:
            raise BadValue(f"1 to {MAX_ACCESS_DAYS} days", repr(days), column="days")
        access_expires = now + timedelta(days=days)
        with self._write() as connection:
            number = _number(connection, name)
            if number is None:
                number = connection.execute(
                    "INSERT INTO people (name, role, invited_at, expires_at) VALUES (?, ?, ?, ?)",
                    (name, role, _stored(now), _stored(access_expires)),
                ).lastrowid
            connection.execute(
                "UPDATE people SET role = ?, expires_at = ? WHERE person = ?",
                (role, _stored(access_expires), number),
            )
            ((name,),) = connection.execute("SELECT name FROM people WHERE person = ?", (number,))
        return Person(number, name, role), access_expires

    def exchange(self, link: str, *, device: str, label: str, now: datetime) -> tuple[Key, str]:
        """The key of the device that opened a link, and its secret.

        The same link with the same `device` gives the same again, so a form may be sent
        twice; with another one it is refused.

        Raises
        ------
        NotKnown
            There is no such link, it was used, or it holds no longer.
        """
        hashed, token = digest(link), device_token(link, device)
        with self._write() as connection:
            row = connection.execute(
                "SELECT person, links.device FROM links JOIN people USING (person)"
                " WHERE hash = ? AND revoked_at ISNULL AND people.expires_at > ?2"
                " AND links.expires_at > ?2",
                (hashed, _stored(now)),
            ).fetchone()
            used = row and row[1] is not None and not compare_digest(row[1], digest(token))
            if row is None or used:
                raise NotKnown("Expected a link that was not used yet and still holds, got another")
            if row[1] is None:
                _add_key(connection, row[0], digest(token), kind="device", label=label, now=now)
                connection.execute(
                    "UPDATE links SET device = ? WHERE hash = ?", (digest(token), hashed)
                )
        key = self.key(digest(token))
        if key is None:
            raise NotKnown("Expected a link that still holds, got one whose device was signed out")
        return key, token

    def add_key(self, name: str, *, kind: Kind, label: str, now: datetime) -> str:
        """A new key of a person; it is shown now and never again."""
        token = new_token()
        with self._write() as connection:
            number = _expected(connection, name)
            _add_key(connection, number, digest(token), kind=kind, label=label, now=now)
        return token

    def forget_key(self, key: int, *, of: Person) -> None:
        """End one key of a person; nothing happens if it is not theirs."""
        with self._write() as connection:
            connection.execute("DELETE FROM keys WHERE key = ? AND person = ?", (key, of.number))

    def saw(self, key: int, *, now: datetime) -> None:
        """Note that a key was used; a clock set back does not take it back."""
        with self._write() as connection:
            connection.execute(
                "UPDATE keys SET seen_at = max(coalesce(seen_at, ''), ?) WHERE key = ?",
                (_stored(now), key),
            )

    def revoke(self, name: str, *, now: datetime) -> Person:
        """End the access of a person on every device at once.

        Raises
        ------
        NotKnown
            No one of that name has access.
        """
        with self._write() as connection:
            number = _expected(connection, name)
            connection.execute(
                "UPDATE people SET revoked_at = ? WHERE person = ?", (_stored(now), number)
            )
            connection.execute("DELETE FROM links WHERE person = ?", (number,))
            row = connection.execute(
                "SELECT name, role FROM people WHERE person = ?", (number,)
            ).fetchone()
        return Person(number, row[0], Role(row[1]))

    def enter(self, visit_id: str, *, by: Person, now: datetime) -> None:
        """Note who enters a visit.

        Call it while the trail's write lock is held and the visit is known to be new: a
        row that is there already is then of a save that came to nothing.
        """
        with self._write() as connection:
            connection.execute(
                "INSERT OR REPLACE INTO entries (visit_id, person, entered_at) VALUES (?, ?, ?)",
                (visit_id, by.number, _stored(now)),
            )


def _name(name: str) -> str:
    name = " ".join(name.split())
    if not name or len(name) > LONGEST_NAME or not name.isprintable():
        raise BadValue(f"a name of 1 to {LONGEST_NAME} letters", repr(name), column="name")
    return name


def _number(connection: sqlite3.Connection, name: str) -> int | None:
    row = connection.execute(
        "SELECT person FROM people WHERE name = ? COLLATE NOCASE AND revoked_at ISNULL", (name,)
    ).fetchone()
    return None if row is None else row[0]


def _expected(connection: sqlite3.Connection, name: str) -> int:
    number = _number(connection, _name(name))
    if number is None:
        raise NotKnown(f"Expected the name of a person with access, got {name!r}")
    return number


def _add_key(
    connection: sqlite3.Connection,
    person: int,
    hashed: bytes,
    *,
    kind: Kind,
    label: str,
    now: datetime,
) -> None:
    if kind not in get_args(Kind):
        raise BadValue(f"one of {', '.join(get_args(Kind))}", repr(kind), column="kind")
    try:
        connection.execute(
            "INSERT INTO keys (hash, person, kind, label, made_at) VALUES (?, ?, ?, ?, ?)",
            (hashed, person, kind, label[:LONGEST_NAME], _stored(now)),
        )
    except sqlite3.IntegrityError as error:
        raise Conflict("Expected a new key, got one that is there") from error
    connection.execute(
        "DELETE FROM keys WHERE person = ?1 AND key NOT IN (SELECT key FROM keys WHERE person = ?1"
        " ORDER BY hash = ?2 DESC, coalesce(seen_at, made_at) DESC LIMIT ?3)",
        (person, hashed, MAX_KEYS),
    )


def _stored(moment: datetime) -> str:
    return f"{moment.astimezone(UTC):%Y-%m-%dT%H:%M:%SZ}"


def _moment(text: str) -> datetime:
    return datetime.fromisoformat(text)
