"""What a trail is called among all trails: an id for all to see, and a secret one.

Both are made once and stay with the file: a copy, a backup and a restored trail have the same.
"""

from __future__ import annotations

import sqlite3
import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Self

from layers.errors import BadValue

_NAMESPACE = uuid.UUID("2d0e5f0c-7a43-5b0e-8a35-5d5b2f0f6c11")
"""A random number of our own (RFC 9562, 5.5)."""


@dataclass(frozen=True)
class Identity:
    """The two ids of a trail.

    Attributes
    ----------
    trail_id
        Names the trail in everything that its team gives to others.
    secret_id
        Random and never exported: the namespace of all public identifiers. Without it
        they cannot be computed from a guess of what was seen where.
    """

    trail_id: uuid.UUID
    secret_id: uuid.UUID

    @classmethod
    def new(cls) -> Self:
        return cls(uuid.uuid4(), uuid.uuid4())

    @classmethod
    def from_row(cls, row: Mapping[str, Any]) -> Self:
        """The ids that a row of the `trail` table holds."""
        return cls(_uuid(row, "trail_id"), _uuid(row, "secret_id"))

    def as_row(self) -> dict[str, str]:
        """The ids as columns of the `trail` table."""
        return {"trail_id": str(self.trail_id), "secret_id": str(self.secret_id)}


def _uuid(row: Mapping[str, Any], column: str) -> uuid.UUID:
    try:
        return uuid.UUID(str(row[column]))
    except ValueError as error:
        raise BadValue(
            "a uuid in the trail's row: put back the one of a backup",
            repr(row[column]),
            column=column,
        ) from error


def name_trail(connection: sqlite3.Connection) -> None:
    """Give ids to a trail whose file has none yet.

    The id follows from the first visit and the moment of its entry, which never change, so that
    several copies of one older file get the same; the secret is random.
    """
    first = connection.execute(
        "SELECT visit_id, entered_at FROM visits ORDER BY fid LIMIT 1"
    ).fetchone()
    trail_id = uuid.uuid4() if first is None else uuid.uuid5(_NAMESPACE, " ".join(map(str, first)))
    connection.execute(
        "UPDATE trail SET trail_id = coalesce(trail_id, :trail_id),"
        " secret_id = coalesce(secret_id, :secret_id)",
        Identity(trail_id, uuid.uuid4()).as_row(),
    )
