"""The side file itself: where it is, its tables, and how it is made.

It is beside the trail, never in it, so a trail can be handed on, opened in a GIS or
published without naming its users. Only its owner can read it.

The author of a visit is recorded before the visit is committed: a crash leaves a record without
a visit, never a visit without an author.
"""

from __future__ import annotations

import os
import secrets
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from layers.errors import EnvironmentFault, NotATrail, NotKnown, StorageFull
from layers.trail.checking import PEOPLE_ENDING
from layers.trail.connection import connect_to_read, translated
from layers.trail.whole_files import copy_whole

OWNER_ONLY = 0o600

FORMAT = "boxround people 1"

SCHEMA = """
CREATE TABLE about (format TEXT NOT NULL, mark TEXT NOT NULL);
CREATE TABLE people (
  person INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  name TEXT NOT NULL,
  role TEXT NOT NULL CHECK (role IN ('keeper', 'walker')),
  invited_at TEXT NOT NULL,
  expires_at TEXT NOT NULL,
  revoked_at TEXT);
CREATE UNIQUE INDEX people_by_name ON people (name COLLATE NOCASE) WHERE revoked_at ISNULL;
CREATE TABLE links (
  hash BLOB PRIMARY KEY NOT NULL,
  person INTEGER NOT NULL REFERENCES people,
  expires_at TEXT NOT NULL,
  device BLOB);
CREATE TABLE keys (
  key INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  hash BLOB NOT NULL UNIQUE,
  person INTEGER NOT NULL REFERENCES people,
  kind TEXT NOT NULL CHECK (kind IN ('device', 'program', 'calendar')),
  label TEXT NOT NULL,
  made_at TEXT NOT NULL,
  seen_at TEXT);
CREATE INDEX keys_by_person ON keys (person);
CREATE TABLE entries (
  visit_id TEXT PRIMARY KEY NOT NULL,
  person INTEGER NOT NULL REFERENCES people,
  entered_at TEXT NOT NULL);
"""
"""`hash` is the SHA-256 of a secret; the secret itself is nowhere. `links.device` is the
hash of the device key that a link was exchanged for, NULL while it is unused. Moments
are UTC text, `2026-05-14T09:30:00Z`."""


def people_path(trail: Path) -> Path:
    """Where the people of a trail are stored."""
    whole = trail.resolve()
    return whole.with_name(whole.name + PEOPLE_ENDING)


def copy_people(trail: Path, copy: Path) -> Path:
    """Copy the side file of a trail to that of a copy of it; where that is.

    Raises
    ------
    NotKnown
        The trail has none.
    """
    path, target = people_path(trail), people_path(copy)
    if not path.is_file():
        raise NotKnown(f"Expected a trail with a team, got {trail.name}, which has none")
    with people_translated(path), closing(connect_to_read(path)) as reader:
        copy_whole(reader, target)
    return target


def create(path: Path) -> None:
    """An empty file, made whole beside its place and then put there, unless one is there."""
    half = path.with_name(f"{path.name}-{secrets.token_hex(4)}")
    try:
        os.close(os.open(half, os.O_CREAT | os.O_EXCL | os.O_RDWR, OWNER_ONLY))
        try:
            with people_translated(half):
                connection = sqlite3.connect(half)
                connection.executescript(SCHEMA)
                connection.execute(
                    "INSERT INTO about VALUES (?, ?)", (FORMAT, secrets.token_hex(4))
                )
                connection.commit()
                connection.close()
            # Of two who do this at once, the second must not take the first one's place.
            os.link(half, path)
        except FileExistsError:
            return
        finally:
            half.unlink()
    except OSError as error:
        raise StorageFull(f"{path} cannot be written: {error.strerror}") from error


@contextmanager
def people_translated(path: Path) -> Iterator[None]:
    try:
        with translated(path):
            yield
    except NotATrail as error:
        raise EnvironmentFault(f"{path.name} is damaged, or is no list of people") from error
