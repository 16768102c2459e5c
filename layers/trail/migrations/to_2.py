"""Format 2: the nest's words say what one sees."""

from __future__ import annotations

import sqlite3

from layers.trail.words import NEST_OF_FORMAT_1


def step(connection: sqlite3.Connection) -> None:
    """Put the words of format 2 in the place of those of format 1; other text stays."""
    for before, after in NEST_OF_FORMAT_1.items():
        connection.execute("UPDATE visits SET nest = ? WHERE nest = ?", (after, before))
