"""Clean rows kept on disk until the whole file is known to be sound.

A file is read once and may be larger than memory, yet not a row may be stored
before the last one was checked.
"""

from __future__ import annotations

import hashlib
import math
import pickle
import sqlite3
from collections.abc import Iterator, Mapping
from types import TracebackType
from typing import Any, Self

from layers.trail.importing.cells import quoted

_CACHE_KIB = 131_072
"""Memory it may take; a 200 MB file of visits has millions of keys, in no order."""


class Spool:
    """Rows in order, and what is remembered by key; a context manager.

    Kept in a temporary database of SQLite's own, which is gone when it is closed.
    """

    def __init__(self) -> None:
        self._database = sqlite3.connect("", isolation_level=None)
        self._database.executescript(
            f"PRAGMA journal_mode = OFF; PRAGMA cache_size = -{_CACHE_KIB};"
            "CREATE TABLE kept (number INTEGER PRIMARY KEY, content BLOB, box TEXT);"
            "CREATE TABLE known (key BLOB PRIMARY KEY, value TEXT) WITHOUT ROWID;"
            "BEGIN"
        )
        self._count = 0

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._database.close()

    def __len__(self) -> int:
        return self._count

    def add(self, row: Mapping[str, Any]) -> None:
        self._count += 1
        content = pickle.dumps(dict(row), pickle.HIGHEST_PROTOCOL)
        self._database.execute(
            "INSERT INTO kept (content, box) VALUES (?, ?)", (content, row.get("box"))
        )

    def rows(self) -> Iterator[dict[str, Any]]:
        """The rows, in the order they were added."""
        for (content,) in self._database.execute("SELECT content FROM kept ORDER BY number"):
            yield pickle.loads(content)

    def rows_by_box(self) -> Iterator[tuple[str, list[dict[str, Any]]]]:
        """Each box with its rows, in the order they were added."""
        self._database.execute("CREATE INDEX IF NOT EXISTS of_box ON kept (box, number)")
        boxes = self._database.execute("SELECT DISTINCT box FROM kept ORDER BY box").fetchall()
        for (box,) in boxes:
            rows = self._database.execute(
                "SELECT content FROM kept WHERE box = ? ORDER BY number", (box,)
            )
            yield box, [pickle.loads(content) for (content,) in rows]

    def remember(self, key: str, value: str) -> str | None:
        """Keep a value under a key that is new; else give the value kept before."""
        added = self._database.execute(
            "INSERT OR IGNORE INTO known VALUES (?, ?)", (_digest(key), value)
        )
        return None if added.rowcount else self.recall(key)

    def recall(self, key: str) -> str | None:
        """The value kept under a key; None if there is none."""
        found = self._database.execute(
            "SELECT value FROM known WHERE key = ?", (_digest(key),)
        ).fetchone()
        return None if found is None else str(found[0])


def _digest(key: str) -> bytes:
    """A short stand-in for a key: millions of them must fit, and none may meet another."""
    return hashlib.blake2b(key.encode(), digest_size=16).digest()


_NOT_CONTENT = frozenset({"fid", "visit_id", "entered_at", "geometry", "own_columns", "import_id"})


def _same(one: object, other: object) -> bool:
    """Whether two cells hold the same; numbers up to what rounding does to them."""
    if isinstance(one, int | float) and isinstance(other, int | float):
        return math.isclose(one, other, rel_tol=1e-9, abs_tol=1e-9)
    return one == other


def differences(new: Mapping[str, Any], stored: Mapping[str, Any]) -> str:
    """The columns in which two rows differ, in words; empty if in none.

    A blank cell of `new` that the trail has filled in counts too.
    """
    differing = [
        f"{column} {_shown(new[column])} instead of {_shown(stored.get(column))}"
        for column in new
        if column not in _NOT_CONTENT and not _same(new[column], stored.get(column))
    ]
    return ", ".join(differing)


def _shown(value: object) -> str:
    return "blank" if value is None else quoted(value)
