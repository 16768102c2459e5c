"""What was published of a trail month by month, stored in its file.

The table is not registered in `gpkg_contents`: a GIS does not list it. It is made with the first
release, and a change in it does not raise the trail's version.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from layers.trail.store import Trail

_TABLE = """CREATE TABLE IF NOT EXISTS boxround_releases (
  month TEXT PRIMARY KEY NOT NULL, rules TEXT NOT NULL, view TEXT NOT NULL,
  squares TEXT NOT NULL)"""
_EXISTS = "SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = 'boxround_releases'"


@dataclass(frozen=True)
class Release:
    """One month as it was published.

    Attributes
    ----------
    month
        Its first day.
    rules
        The rules and the name that it was made by, as text.
    view
        What was published, as text.
    squares
        The name of the square that each box was published in: for the keeper alone.
    """

    month: date
    rules: str
    view: str
    squares: Mapping[str, str]


def releases(trail: Trail) -> list[Release]:
    """All releases, the latest first."""
    if not trail.rows(_EXISTS):
        return []
    return [
        Release(date.fromisoformat(month), rules, view, json.loads(squares))
        for month, rules, view, squares in trail.rows(
            "SELECT month, rules, view, squares FROM boxround_releases ORDER BY month DESC"
        )
    ]


def release_number(trail: Trail, month: date) -> int:
    """A number that is another one once a month's release is made anew; 0 = there is none."""
    if not trail.rows(_EXISTS):
        return 0
    sql = "SELECT rowid FROM boxround_releases WHERE month = ?"
    return sum(row[0] for row in trail.rows(sql, (month.isoformat(),)))


def store_release(trail: Trail, release: Release, *, replaces: bool) -> Release:
    """Store a month; the one that is now stored, which another process may have been first with.

    Parameters
    ----------
    replaces
        Whether a release of the same month by the same rules is made anew.
    """
    month = release.month.isoformat()
    with trail.write() as connection:
        connection.execute(_TABLE)
        if not replaces:
            found = connection.execute(
                "SELECT rules, view, squares FROM boxround_releases WHERE month = ?", (month,)
            ).fetchone()
            if found is not None and found[0] == release.rules:
                return Release(release.month, found[0], found[1], json.loads(found[2]))
        connection.execute(
            "INSERT OR REPLACE INTO boxround_releases VALUES (?, ?, ?, ?)",
            (month, release.rules, release.view, json.dumps(dict(release.squares))),
        )
    return release
