"""The rows of a table as visits: a record a row, or a cell of a table with days across."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from itertools import groupby
from typing import Protocol

from layers.errors import Fault
from layers.trail.importing.cells import is_blank
from layers.trail.importing.proposing.answers import LEAVE_OUT, Place, Question, Settled
from layers.trail.importing.proposing.columns import OWN
from layers.trail.importing.proposing.counting import CellReader
from layers.trail.importing.proposing.days import Written
from layers.trail.importing.proposing.matching import BoxIds, SpeciesNames
from layers.trail.importing.proposing.once import written_once
from layers.trail.importing.proposing.order import DayReader
from layers.trail.importing.proposing.tables import CONTENTS, Column, Layout, filled
from layers.trail.importing.proposing.vocabulary import is_ditto, is_total, month_of, role_of

ABOVE = "as above"
DATES = "dates"
"""Marks a record whose day waits for an answer of that section."""


@dataclass
class Record:
    """One visit as it was read.

    Attributes
    ----------
    values
        Our column -> what `read_visit` takes; her own columns under `own_columns`.
    places
        Our column -> the cell it came from.
    open
        Questions that must be answered before it can be added.
    unread, needed
        Why it cannot be added at all, None where it can: what was written, and what is needed.
    """

    sheet: str
    row: int
    values: dict[str, object] = field(default_factory=dict)
    own: dict[str, str] = field(default_factory=dict)
    places: dict[str, Place] = field(default_factory=dict)
    open: list[str] = field(default_factory=list)
    unread: str | None = None
    needed: str = "a visit of a box on a day"

    def faults(self, file: str, questions: Sequence[Question]) -> list[Fault]:
        """Why it cannot be added as it is; empty where it can."""
        if self.unread is not None:
            return [Fault(self.needed, self.unread, file=file, row=self.row)]
        waiting = [one for one in questions if one.key in self.open]
        return [
            Fault(f"an answer to: {one.text}", "none yet", file=file, row=self.row)
            for one in waiting
        ] or [
            Fault("an answer to a question about its day", "none yet", file=file, row=self.row)
            for _ in self.open[:1]
        ]


class _Known(Protocol):
    @property
    def met(self) -> frozenset[str]: ...
    @property
    def today(self) -> date: ...


class RowReader:
    """Reads tables row by row, and lists the rows that are no visits."""

    def __init__(
        self,
        settled: Settled,
        *,
        ids: BoxIds,
        species: SpeciesNames,
        days: DayReader,
        known: _Known,
    ) -> None:
        self._settled = settled
        self._ids = ids
        self._days = days
        self._today = known.today
        self._box_once = False
        self._cells = CellReader(settled, species=species, met=known.met)
        self.left_out: list[tuple[Place, str]] = []

    def read(self, layout: Layout) -> Iterator[Record]:
        """The visits of a table."""
        box_at = _first(layout.columns, "box")
        date_at = _first(layout.columns, "date")
        parts = {name: _first(layout.columns, name) for name in ("year", "month", "day")}
        groups = list(_groups(layout.columns))
        box, day = self._above(layout, "box"), self._above(layout, "date")
        self._box_once = written_once(layout, box_at, date_at, today=self._today)
        for row in layout.body:
            cells = filled(layout.grid.rows[row])
            if not cells:
                continue
            place = Place(layout.grid.sheet, row + 1, cells[0][0] + 1)
            first = cells[0][1]
            if isinstance(first, str) and is_total(first) and self._ids.match(first).value is None:
                self.left_out.append((place, "it sums up other rows"))
                continue
            if line := self._banner(layout, row):
                box = line if line is not None else box
                continue
            own_box = None if box_at is None else layout.grid.cell(row, box_at.at)
            if len(cells) == 1 and len(layout.columns) > 2:
                # A line of its own: a box for the rows below it, or a remark.
                if own_box is not None and self._ids.match(own_box).value is not None:
                    box = own_box
                else:
                    self.left_out.append((place, f"a line of its own: {_short(first)}"))
                continue
            own_day = None if date_at is None else layout.grid.cell(row, date_at.at)
            if parts["month"] is not None and parts["day"] is not None:
                own_day = self._joined(layout, row, parts)
            values = [
                column
                for column in layout.columns
                if column not in (box_at, date_at)
                and not _nothing(layout.grid.cell(row, column.at))
            ]
            if (
                _nothing(own_box)
                and _nothing(own_day)
                and (not values or all(column.role == OWN for column in values))
            ):
                self.left_out.append((place, "it names neither a box nor a day"))
                continue
            if is_heading_again(cells):
                continue
            box = self._carried("box", own_box, box, column=box_at, place=place)
            day = self._carried("date", own_day, day, column=date_at, place=place)
            for group in groups:
                record = self._record(layout, row, group, box, day)
                if record is not None:
                    yield record

    def _above(self, layout: Layout, name: str) -> object:
        held = layout.context.get(name)
        if held is not None:
            return held[2]
        if name == "box" and self._ids.match(layout.grid.sheet).value is not None:
            return layout.grid.sheet
        return None

    def _banner(self, layout: Layout, row: int) -> object:
        """The box that a line of its own names for the rows below it; None for other rows."""
        cells = filled(layout.grid.rows[row])
        if len({str(cell) for _, cell in cells}) != 1:
            return None
        text = cells[0][1]
        if not layout.has("box") and isinstance(text, str):
            return text if self._ids.is_named(text.rstrip(":")) else None
        return None

    def _carried(
        self,
        name: str,
        own: object,
        above: object,
        *,
        column: Column | None,
        place: Place,
    ) -> object:
        """The box or day of a row: its own, that of the row above, or an open question."""
        if column is None and own is None:
            return above
        if is_ditto(own):
            return above
        if not _nothing(own):
            return own
        if above is None or (name == "box" and is_open(above)):
            return None
        word = "box" if name == "box" else "day"
        if name == "box" and self._box_once:
            grounds = "each box is written once, and below it the days begin anew"
            text = self._settled.decide("rows", "without a box", ABOVE, grounds, place)
            return above if text == ABOVE else _Open("rows: without a box", above, left=True)
        answer = self._settled.ask(
            Question(
                "rows",
                f"without a {word}",
                f"Some rows have no {word}. Is it that of the row above?",
                {ABOVE: f"yes, the {word} above", LEAVE_OUT: "no, leave these rows out"},
                proposal=ABOVE,
                grounds=f"a {word} is often written once for the rows that follow",
            ),
            place,
        )
        if answer == ABOVE:
            return above
        return _Open(f"rows: without a {word}", above, left=answer == LEAVE_OUT)

    def _joined(self, layout: Layout, row: int, parts: Mapping[str, Column | None]) -> object:
        """A day from columns of its own for year, month and day."""

        def number(name: str) -> int | None:
            column = parts[name]
            cell = None if column is None else layout.grid.cell(row, column.at)
            if name == "month" and isinstance(cell, str) and month_of(cell):
                return month_of(cell)
            text = str(cell).strip().removesuffix(".0") if cell is not None else ""
            return int(text) if text.isdecimal() else None

        month, day, year = number("month"), number("day"), number("year")
        if month is None or day is None:
            return None
        return Written(year, month, day, "month-first")

    def _record(
        self, layout: Layout, row: int, group: Sequence[Column], box: object, day: object
    ) -> Record | None:
        record = Record(layout.grid.sheet, row + 1)
        by_group = group[0].day is not None or group[0].box is not None
        shared = [c for c in layout.columns if c.day is None and c.box is None] if by_group else []
        columns = [*group, *(c for c in shared if c.role not in ("box", "date"))]
        if by_group and all(_nothing(layout.grid.cell(row, column.at)) for column in group):
            return None
        left = self._put_box(record, layout, row, group[0].box if group[0].box else box)
        left |= self._put_day(record, layout, row, group[0].day if group[0].day else day)
        if left:
            self.left_out.append((Place(record.sheet, record.row, 1), "you left it out"))
            return None
        for name in ("observer", "species"):
            held = layout.context.get(name)
            if held is not None and not layout.has(name):
                column = Column(held[1], name, name)
                self._cells.read(
                    record, column, held[2], Place(record.sheet, held[0] + 1, held[1] + 1)
                )
        for column in columns:
            if column.role in ("box", "date", "year", "month", "day"):
                continue
            cell = layout.grid.cell(row, column.at)
            if is_ditto(cell) and column.role in ("species", "observer"):
                cell = self._value_above(layout, row, column)
            place = Place(record.sheet, record.row, column.at + 1)
            self._cells.read(record, column, cell, place)
        self._cells.finish(record)
        return record

    def _value_above(self, layout: Layout, row: int, column: Column) -> object:
        for above in range(row - 1, layout.body.start - 1, -1):
            cell = layout.grid.cell(above, column.at)
            if not _nothing(cell) and not is_ditto(cell):
                return cell
        return None

    def _put_box(self, record: Record, layout: Layout, row: int, box: object) -> bool:
        """Give a record its box; whether the row is left out."""
        place = _placed(record, layout, "box")
        if isinstance(box, _Open):
            record.open.append(box.key)
            return box.left
        if box is None:
            record.unread, record.needed = "nothing", "the id of a box"
            return False
        shown = str(int(box)) if isinstance(box, float) and box.is_integer() else str(box)
        shown = " ".join(shown.split()).rstrip(":")
        found = self._ids.match(box.rstrip(":") if isinstance(box, str) else box)
        given = self._settled.answer("boxes", shown)
        if found.value is not None and (found.value == shown or given is None):
            if found.value != shown:
                self._settled.decide("boxes", shown, found.value, found.grounds, place)
            record.values["box"] = found.value
            return False
        options = {name: f"box {name}" for name in self._ids.nearest(box)}
        answer = self._settled.ask(
            Question(
                "boxes",
                shown,
                f"Which box is {shown!r}? The trail has none of that id.",
                {**options, LEAVE_OUT: "leave its rows out"},
                proposal=None,
                free=True,
            ),
            place,
        )
        if answer is None:
            record.open.append(f"boxes: {shown}")
        elif answer == LEAVE_OUT:
            return True
        else:
            record.values["box"] = answer
        return False

    def _put_day(self, record: Record, layout: Layout, row: int, day: object) -> bool:
        """Give a record its day; whether the row is left out."""
        place = _placed(record, layout, "date")
        if isinstance(day, _Open):
            record.open.append(day.key)
            return day.left
        found = None if day is None else self._days.read(day, place, layout)
        if found is None:
            shown = "nothing" if _nothing(day) else repr(str(day))
            if record.unread is None:
                record.unread, record.needed = shown, "a date like 2026-05-14"
        elif isinstance(found, Written):
            record.open.append(DATES)
        else:
            record.values["date"] = found
            clock = self._days.clock(day)
            if clock is not None:
                record.values["time"] = clock
        return False


@dataclass(frozen=True)
class _Open:
    """A box or day that a question decides; `above` goes on to the rows below."""

    key: str
    above: object
    left: bool


def _placed(record: Record, layout: Layout, role: str) -> Place:
    """The cell that a record's box or day came from."""
    column = _first(layout.columns, role)
    place = Place(record.sheet, record.row, (column.at if column else 0) + 1)
    record.places[role] = place
    return place


def _short(cell: object) -> str:
    text = " ".join(str(cell).split())
    return text if len(text) <= 60 else f"{text[:59]}…"


def is_open(value: object) -> bool:
    return isinstance(value, _Open)


def is_heading_again(cells: Sequence[tuple[int, object]]) -> bool:
    """Whether a row repeats headings, as printed lists do on each page."""
    roles = [role_of(cell) for _, cell in cells if isinstance(cell, str)]
    return len(cells) >= 3 and len(roles) == len(cells) and all(roles)


def _first(columns: Sequence[Column], role: str) -> Column | None:
    found = (c for c in columns if c.role == role and c.day is None and c.box is None)
    return next(found, None)


def _groups(columns: Sequence[Column]) -> Iterator[Sequence[Column]]:
    """Columns of one visit: all of a plain table, or those under one day or one box."""
    across = [c for c in columns if c.day is not None or c.box is not None]
    if not across:
        yield columns
        return
    # By the place in the header too: two visits may be on one day.
    for _, group in groupby(across, key=lambda column: (column.day, column.box)):
        yield list(group)


def _nothing(value: object) -> bool:
    return (
        value is None
        or (isinstance(value, str) and not value.strip())
        or (is_blank(value) and value in ("-", "–", "—"))
    )


__all__ = ["ABOVE", "CONTENTS", "Record", "RowReader"]
