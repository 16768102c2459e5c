"""What can be read of a damaged trail file, brought into a new one; what cannot is named.

A table's rows are walked from both ends until a page cannot be read; each row between is then
looked up by its number, since a damaged page hides its own rows alone. Whatever was read goes
through the triggers of a new file like any other row, so that a page that holds something else
than it should brings in nothing wrong.
"""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from contextlib import ExitStack, closing, contextmanager
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import Any

from layers.errors import BadValue, BoxroundError, NotATrail
from layers.trail.connection import (
    connect,
    connect_to_read,
    expect_file,
    fold_log,
    log_path,
    transaction,
    translated,
)
from layers.trail.field import Table
from layers.trail.identity import Identity
from layers.trail.migrations import TODAY, format_number
from layers.trail.migrations.upgrade import readable
from layers.trail.schema import TABLES, TRAIL
from layers.trail.settings import Settings
from layers.trail.store import Trail
from layers.trail.whole_files import expect_new, passing_folder, put_in_place

MAX_LOOKED_UP = 2_000_000
"""Rows looked up one by one, at some 5 µs each."""

MAX_IN_VAIN = 1000
"""Rows looked up in a table of which none can be read: more than a page holds."""

MAX_LISTED = 20
"""Rows named one by one; of more the number is given."""

_NEW_IDS = "The trail's id could not be read: it and its nests have new ones in what is exported."

_UNREADABLE = (sqlite3.DatabaseError, OverflowError, UnicodeDecodeError)

Cells = tuple[Any, ...]


@dataclass(frozen=True)
class RescuedTable:
    """What came out of one table.

    Attributes
    ----------
    rows
        How many rows are in the new file.
    lost
        What is not in it, or otherwise than it was; a sentence each.
    """

    table: str
    rows: int
    lost: tuple[str, ...] = ()


def rescue(damaged: Path, target: Path) -> list[RescuedTable]:
    """Write what can be read of `damaged` as a new trail; `damaged` is not changed.

    Raises
    ------
    Conflict
        There is a file `target` already.
    NotATrail
        Nothing of the file can be read, or it is of another format and cannot be brought to
        today's.
    StorageFull
        There is no room.
    """
    expect_file(damaged)
    expect_new(target)
    with passing_folder(target.absolute().parent) as folder:
        part = folder / target.name
        with _copy_of_today(damaged, folder) as source:
            settings, identity, lost = _settings(source, name=damaged.stem)
            Trail.create(part, settings, identity=identity).close()
            with translated(part), closing(connect(part, busy_s=10.0)) as fresh:
                with transaction(fresh):
                    found = [
                        _copy_rows(source, fresh, table)
                        for table in TABLES.values()
                        if table is not TRAIL
                    ]
                    found = [
                        _with_boxes(fresh, one) if one.table == "boxes" else one for one in found
                    ]
                fold_log(fresh)
        put_in_place(part, target)
    return [RescuedTable("settings", 1, lost), *found]


@contextmanager
def _copy_of_today(damaged: Path, folder: Path) -> Iterator[sqlite3.Connection]:
    """A connection to a copy of the file, in today's format."""
    copy = folder / "damaged.gpkg"
    shutil.copyfile(damaged, copy)
    if log_path(damaged).exists():
        # To open the file itself would fold its log into it.
        shutil.copyfile(log_path(damaged), log_path(copy))
    with ExitStack() as stack:
        try:
            number = _format(copy)
            if number != TODAY:
                copy = stack.enter_context(readable(copy))
            source = stack.enter_context(closing(connect_to_read(copy)))
        except (*_UNREADABLE, BoxroundError) as error:
            raise NotATrail(
                f"Nothing of {damaged.name} could be rescued ({error}). Use a backup:"
                " boxround restore BACKUP TRAIL"
            ) from error
        yield source


def _format(path: Path) -> int:
    """The number of the file's format; today's where it cannot be read."""
    with closing(connect_to_read(path)) as source:
        try:
            (name,) = source.execute("SELECT format FROM trail").fetchone()
            return format_number(name)
        except (*_UNREADABLE, TypeError, NotATrail):
            return TODAY


def _settings(
    source: sqlite3.Connection, *, name: str
) -> tuple[Settings, Identity, tuple[str, ...]]:
    """The trail's settings and ids, with the usual and new ones for those that cannot be read."""
    usual = Settings(name, "UTC")
    try:
        cursor = source.execute("SELECT * FROM trail")
        row = dict(zip((c[0] for c in cursor.description), cursor.fetchone(), strict=True))
    except (*_UNREADABLE, TypeError):
        settings_lost = (
            "The settings could not be read: set name and time zone again with boxround settings."
        )
        return usual, Identity.new(), (settings_lost, _NEW_IDS)
    try:
        identity, lost = Identity.from_row(row), []
    except (BadValue, KeyError):
        identity, lost = Identity.new(), [_NEW_IDS]
    try:
        return Settings.from_row(row), identity, tuple(lost)
    except (BadValue, ValueError, TypeError, AttributeError, KeyError):
        pass
    found = usual
    for column in usual.as_row():
        try:
            found = Settings.from_row(found.as_row() | {column: row[column]})
        except (BadValue, ValueError, TypeError, AttributeError, KeyError):
            lost.append(f"The setting {column} could not be read: set it again.")
    return found, identity, tuple(lost)


def _copy_rows(source: sqlite3.Connection, fresh: sqlite3.Connection, table: Table) -> RescuedTable:
    """Copy every row of a table that can be read, and that a trail can hold."""
    columns = ["fid", *(["geom"] if table.geometry else []), *table.columns]
    quoted = ", ".join(f'"{name}"' for name in columns)
    spoilt: set[int] = set()
    try:
        select = f"SELECT {quoted} FROM {table.name} NOT INDEXED"
        rows, gaps = _read(source, select, last=_last_number(source, table), spoilt=spoilt)
    except _UNREADABLE as error:
        return RescuedTable(table.name, 0, (f"No row could be read: {error}.",))
    lost = [f"Rows {_numbers(gaps)} could not be read."] if gaps else []
    marks = ", ".join("?" * len(columns))
    added, refused = 0, []
    for number in sorted(rows):
        try:
            fresh.execute(f"INSERT INTO {table.name} ({quoted}) VALUES ({marks})", rows[number])
            added += 1
        except (sqlite3.Error, OverflowError, ValueError) as error:
            refused.append(f"Row {number} was left out: {error}.")
            spoilt.discard(number)
    lost += refused[:MAX_LISTED]
    if len(refused) > MAX_LISTED:
        lost.append(f"{len(refused) - MAX_LISTED} more rows were left out.")
    if spoilt:
        lost.append(f"Rows {_numbers(_spans(sorted(spoilt)))} held letters that are none: see �.")
    return RescuedTable(table.name, added, tuple(lost))


def _read(
    source: sqlite3.Connection, select: str, *, last: int, spoilt: set[int]
) -> tuple[dict[int, Cells], list[tuple[int, int]]]:
    """Every row that can be read, by its number; spans of numbers of those that cannot.

    `last` is the highest number that a row may have. Text that is not UTF-8 is read all the
    same; its rows are added to `spoilt`.
    """
    broken = False

    def to_text(raw: bytes) -> str:
        nonlocal broken
        text = raw.decode("utf-8", "replace")
        broken |= "�" in text
        return text

    source.text_factory = to_text
    rows: dict[int, Cells] = {}

    def take(found: Iterable[Cells]) -> None:
        nonlocal broken
        for row in found:
            if not isinstance(row[0], int) or row[0] in rows:
                raise sqlite3.DatabaseError("rows are not in their order")
            rows[row[0]] = row
            if broken:
                spoilt.add(row[0])
            broken = False

    ends = []
    for order in ("ASC", "DESC"):
        before = len(rows)
        try:
            take(source.execute(f"{select} ORDER BY fid {order}"))
            return rows, []
        except _UNREADABLE:
            broken = False
            ends.append(list(rows)[before:])
    first = ends[0][-1] + 1 if ends[0] else 1
    last = ends[1][-1] - 1 if ends[1] else last
    unread = []
    for number in range(first, min(last, first + MAX_LOOKED_UP) + 1):
        try:
            take(source.execute(f"{select} WHERE fid = ?", (number,)))
        except _UNREADABLE:
            broken = False
            unread.append(number)
            if len(unread) == MAX_IN_VAIN and not rows:
                break
    if unread and not rows:
        raise sqlite3.DatabaseError("its pages are damaged")
    return rows, _spans(unread)


def _last_number(source: sqlite3.Connection, table: Table) -> int:
    """The highest number that a row of the table ever had."""
    try:
        query = "SELECT seq FROM sqlite_sequence WHERE name = ?"
        return int(source.execute(query, (table.name,)).fetchone()[0])
    except (*_UNREADABLE, TypeError, ValueError):
        return MAX_LOOKED_UP


def _spans(numbers: Sequence[int]) -> list[tuple[int, int]]:
    """First and last of each run of ascending numbers."""
    if not numbers:
        return []
    breaks = [(one, two) for one, two in pairwise(numbers) if two != one + 1]
    return list(
        zip(
            [numbers[0], *(two for _, two in breaks)],
            [*(one for one, _ in breaks), numbers[-1]],
            strict=True,
        )
    )


def _numbers(spans: Sequence[tuple[int, int]]) -> str:
    """Spans as text: `3, 7 to 12`; of many the first ones."""
    texts = [f"{one}" if one == two else f"{one} to {two}" for one, two in spans[:MAX_LISTED]]
    more = len(spans) - len(texts)
    return ", ".join(texts) + (f" and {more} more places" if more else "")


def _with_boxes(fresh: sqlite3.Connection, boxes: RescuedTable) -> RescuedTable:
    """Give each visited box whose row was lost a row with its id alone."""
    orphans = "SELECT DISTINCT box FROM visits WHERE box NOT IN (SELECT box FROM boxes)"
    missing = [box for (box,) in fresh.execute(orphans).fetchall()]
    for box in missing:
        fresh.execute("INSERT INTO boxes (box) VALUES (?)", (box,))
    if not missing:
        return boxes
    named = ", ".join(missing[:MAX_LISTED]) + (" and others" if len(missing) > MAX_LISTED else "")
    sentence = f"Only the id is left of {named}: give them their places again."
    return replace(boxes, rows=boxes.rows + len(missing), lost=(*boxes.lost, sentence))
