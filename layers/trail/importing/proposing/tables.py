"""Finds the tables of a sheet: title lines, header rows, blank rows between, days across.

Known boxes and days come before words: "Box 1" in a header is a box, not the column "box".
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from itertools import islice

from layers.trail.importing.cells import is_blank
from layers.trail.importing.proposing.days import Written, written_day
from layers.trail.importing.proposing.grids import Grid
from layers.trail.importing.proposing.matching import BoxIds
from layers.trail.importing.proposing.vocabulary import is_count, is_ditto, role_of

CONTENTS = "contents"
_IN_BRACKETS = re.compile(r"[(\[].*[)\]]")
_CONTEXT = frozenset({"box", "date", "observer", "species", "year"})
"""What a line above a table may hold for all its rows."""
_LONGEST_HEADING = 60
_SAMPLE = 200


@dataclass(frozen=True)
class Column:
    """One column of a table; `day` or `box` where its header gives them for all its rows."""

    at: int
    heading: str
    role: str | None
    day: Written | None = None
    box: str | None = None


@dataclass
class Layout:
    """One table: its columns, the rows below its header, and what lines above it say."""

    grid: Grid
    columns: tuple[Column, ...]
    body: range
    header_row: int
    context: Mapping[str, tuple[int, int, object]] = field(default_factory=dict)
    titles: tuple[str, ...] = ()

    def has(self, role: str) -> bool:
        return any(column.role == role for column in self.columns)


def find_tables(grid: Grid, *, ids: BoxIds, today: date) -> list[Layout]:
    """The tables of a sheet, from top to bottom and left to right."""
    finder = _Finder(grid, ids, today)
    found = [part for layout in finder.layouts() for part in _side_by_side(layout)]
    return found or finder.without_header()


class _Finder:
    def __init__(self, grid: Grid, ids: BoxIds, today: date) -> None:
        self._grid = grid
        self._ids = ids
        self._today = today

    def layouts(self) -> Iterator[Layout]:
        rows = self._grid.rows
        heads = dict(self._heads())
        context: dict[str, tuple[int, int, object]] = {}
        titles: list[str] = []
        at = 0
        while at < len(rows):
            if at in heads:
                columns, below = heads[at]
                end = next((row for row in range(below, len(rows)) if row in heads), len(rows))
                # Lines right above the next header belong to it.
                while end > below and end < len(rows) and self._is_line(rows[end - 1]):
                    end -= 1
                yield Layout(
                    self._grid, columns, range(below, end), at, dict(context), tuple(titles)
                )
                at = max(end, below)
                titles = []
            else:
                line = line_context(rows[at], at, self._ids)
                context |= line
                titles += [str(cell) for _, cell in filled(rows[at])][:3]
                at += 1

    def _is_line(self, row: Sequence[object]) -> bool:
        cells = filled(row)
        return (
            not cells
            or len({str(cell) for _, cell in cells}) == 1
            or bool(line_context(row, 0, self._ids))
        )

    def _heads(self) -> Iterator[tuple[int, tuple[tuple[Column, ...], int]]]:
        """Row -> columns of the header that begins there, and the first row below it."""
        rows, at = self._grid.rows, 0
        # Rows below a column of days are visits, also where a program made days of other cells.
        in_list = False
        while at < len(rows):
            in_list = in_list and bool(filled(rows[at]))
            across = None if in_list else self._days_across(at) or self._boxes_across(at)
            found = across or self._plain(at)
            if found is not None:
                in_list = any(one.role == "date" and one.day is None for one in found[0])
                yield at, found
                at = found[1]
            else:
                at += 1

    def _plain(self, at: int) -> tuple[tuple[Column, ...], int] | None:
        """A row of headings, perhaps with a row of groups above or of finer ones below."""
        rows = self._grid.rows
        row = rows[at]
        if not self._is_text(row):
            return None
        roles = {role_of(str(cell)) for _, cell in filled(row)} - {None}
        below = self._below(at)
        finer = rows[below] if below is not None else ()
        if len(roles) < 2:
            # A row of groups has the headings below it.
            groups = filled(row)
            titled = groups[0][0] == 0 and len({str(cell) for _, cell in groups}) < 2
            if below is None or titled or below != at + 1:
                return None
            lower = {role_of(str(cell)) for _, cell in filled(finer)} - {None}
            if not self._is_text(finer) or len(lower) < 2:
                return None
            return self._joined(row, finer), below + 1
        if below == at + 1 and finer and self._is_finer(row, finer):
            return self._joined(row, finer), below + 1
        columns = tuple(Column(i, _heading(cell), role_of(str(cell))) for i, cell in enumerate(row))
        columns += tuple(Column(i, "", None) for i in range(len(row), self._width(at + 1)))
        return columns, at + 1

    def _width(self, start: int) -> int:
        return max((len(row) for row in self._grid.rows[start : start + _SAMPLE]), default=0)

    def _below(self, at: int) -> int | None:
        rows = self._grid.rows
        return next((row for row in range(at + 1, len(rows)) if filled(rows[row])), None)

    def _is_finer(self, row: Sequence[object], finer: Sequence[object]) -> bool:
        """Whether a row below a header refines it: units, or headings below groups."""
        cells = filled(finer)
        if all(_IN_BRACKETS.fullmatch(str(cell).strip()) for _, cell in cells):
            return True
        if not self._is_text(finer):
            return False
        for i, cell in cells:
            top = row[i] if i < len(row) else None
            if top is not None and role_of(str(top)) in ("box", "date") and top != cell:
                return False
        return any(role_of(str(cell)) for i, cell in cells)

    def _joined(self, top: Sequence[object], finer: Sequence[object]) -> tuple[Column, ...]:
        columns, group = [], ""
        for i in range(max(len(top), len(finer))):
            upper = _heading(top[i]) if i < len(top) else ""
            lower = _heading(finer[i]) if i < len(finer) else ""
            lower = "" if lower == upper or _IN_BRACKETS.fullmatch(lower) else lower
            group = upper or (group if lower else "")
            heading = " ".join(filter(None, (group if lower else upper, lower)))
            roles = (role_of(text) for text in (heading, f"{lower} {group}", lower, upper) if text)
            role = next((role for role in roles if role), None)
            if role is None and is_count(lower):
                role = role_of(group)
            columns.append(Column(i, heading, role))
        return tuple(columns)

    def _days_across(self, at: int) -> tuple[tuple[Column, ...], int] | None:
        rows = self._grid.rows
        cells = filled(rows[at])
        days = {i: day for i, cell in cells if (day := written_day(cell, today=self._today))}
        others = [(i, cell) for i, cell in cells if i not in days]
        if (
            len(set(days.values())) < 2
            or len(others) > 2
            or not all(
                isinstance(cell, str) and (role_of(cell) or not self._ids.match(cell).value)
                for _, cell in others
            )
        ):
            return None
        if any(i > min(days) and role_of(str(cell)) is None for i, cell in others):
            return None
        below = self._below(at)
        if below is None:
            return None
        finer = rows[below]
        roles = [role_of(str(cell)) for _, cell in filled(finer)]
        has_finer = self._is_text(finer) and sum(role is not None for role in roles) >= 2
        columns, day = [], None
        for i in range(max(len(rows[at]), len(finer) if has_finer else 0)):
            cell = rows[at][i] if i < len(rows[at]) else None
            day = days.get(i, day if cell is None and has_finer else None)
            lower = finer[i] if has_finer and i < len(finer) else None
            heading = _heading(lower if lower is not None and has_finer else cell)
            if day is None:
                role = role_of(heading) if heading else None
                columns.append(Column(i, heading, role))
            elif not has_finer:
                columns.append(Column(i, heading, CONTENTS, day=day))
            elif lower is not None:
                columns.append(Column(i, heading, role_of(heading), day=day))
        if not any(column.role == "box" for column in columns):
            columns = self._first_is("box", columns)
        return tuple(columns), (below + 1 if has_finer else at + 1)

    def _boxes_across(self, at: int) -> tuple[tuple[Column, ...], int] | None:
        rows = self._grid.rows
        cells = filled(rows[at])
        first = next((cell for i, cell in cells if i == 0), None)
        rest = [(i, cell) for i, cell in cells if i > 0]
        if len(rest) < 2 or (first is not None and role_of(str(first)) not in ("date", "box")):
            return None
        boxes = {i: found for i, cell in rest if (found := self._ids.match(cell).value)}
        notes = [role_of(str(cell)) for i, cell in rest if i not in boxes]
        below = self._below(at)
        if (
            len(set(boxes.values())) < 2
            or len(set(boxes.values())) != len(boxes)
            or not all(role in ("note", "observer") for role in notes)
            or below is None
            or written_day(self._grid.cell(below, 0), today=self._today) is None
        ):
            return None
        columns = [
            Column(i, _heading(cell), CONTENTS, box=boxes[i])
            if i in boxes
            else Column(i, _heading(cell), role_of(str(cell)))
            for i, cell in rest
        ]
        return (Column(0, _heading(first), "date"), *columns), at + 1

    def _first_is(self, role: str, columns: list[Column]) -> list[Column]:
        """The same, the first column that names nothing taken for `role`."""
        for place, column in enumerate(columns):
            if column.day is None and column.role is None:
                columns[place] = replace(column, role=role)
                break
        return columns

    def _is_text(self, row: Sequence[object]) -> bool:
        """Whether a row may be a header: words alone, no day, number or named box."""
        cells = filled(row)
        return bool(cells) and all(
            isinstance(cell, str)
            and len(cell) <= _LONGEST_HEADING
            and not cell.strip().replace(".", "").isdecimal()
            and written_day(cell, today=self._today) is None
            and not (self._ids.is_named(cell) and role_of(cell) is None)
            for _, cell in cells
        )

    def without_header(self) -> list[Layout]:
        """A table without headings, where each row has a known box and a day at the same places."""
        rows = self._grid.rows
        counts: dict[tuple[int, int], int] = {}
        with_both = 0
        for row in rows[:_SAMPLE]:
            cells = filled(row)
            days = [i for i, c in cells if written_day(c, today=self._today)]
            boxes = [i for i, c in cells if i not in days and self._ids.match(c).value]
            with_both += bool(days and boxes)
            for pair in {(b, d) for b in boxes for d in days}:
                counts[pair] = counts.get(pair, 0) + 1
        if not counts or with_both < 2:
            return []
        (box, day), most = max(counts.items(), key=lambda of: of[1])
        if sum(count == most for count in counts.values()) > 1 and most < with_both:
            return []
        width = self._width(0)
        roles = {box: "box", day: "date"}
        columns = tuple(Column(i, "", roles.get(i)) for i in range(width))
        return [Layout(self._grid, columns, range(len(rows)), -1)]


def filled(row: Sequence[object]) -> list[tuple[int, object]]:
    """Position and value of the cells that hold something."""
    return [
        (i, cell)
        for i, cell in enumerate(row)
        if cell is not None and not (isinstance(cell, str) and not cell.strip())
    ]


def line_context(row: Sequence[object], at: int, ids: BoxIds) -> dict[str, tuple[int, int, object]]:
    """What a line of its own says for the rows below: "Box 3", "Date: 14 May 2026"."""
    cells = filled(row)
    if not cells:
        return {}
    i, first = cells[0]
    if len({str(cell) for _, cell in cells}) == 1:
        if isinstance(first, date | datetime):
            return {"date": (at, i, first)}
        text = str(first).strip()
        if ids.is_named(text.rstrip(":")):
            return {"box": (at, i, text.rstrip(":"))}
        name, colon, value = text.partition(":")
        role = role_of(name) if colon and value.strip() else None
        return {role: (at, i, value.strip())} if role is not None and role in _CONTEXT else {}
    found: dict[str, tuple[int, int, object]] = {}
    if len(cells) % 2 == 0 and len(cells) <= 8:
        for (_, label), (j, cell) in zip(cells[::2], cells[1::2], strict=True):
            named = role_of(label.rstrip(": ")) if isinstance(label, str) else None
            if named is None or named not in _CONTEXT or role_of(str(cell)) is not None:
                return {}
            found[named] = (at, j, cell)
    return found


def _side_by_side(layout: Layout) -> Iterator[Layout]:
    """The table parted where a box or a day column comes a second time."""
    starts = [0]
    seen: set[str] = set()
    for place, column in enumerate(layout.columns):
        if column.role in ("box", "date") and column.day is None:
            if column.role in seen:
                starts.append(place)
                seen = set()
            seen.add(column.role)
    parts = [
        layout.columns[start:end]
        for start, end in zip(starts, [*starts[1:], len(layout.columns)], strict=True)
    ]
    complete = all({"box", "date"} <= {column.role for column in part} for part in parts)
    if len(parts) > 1 and not complete:
        yield layout
        return
    yield from (replace(layout, columns=part) for part in parts)


def _heading(cell: object) -> str:
    return "" if cell is None else " ".join(str(cell).split())


def column_cells(layout: Layout, column: Column) -> list[object]:
    """The cells of a column that hold something, up to a sample."""
    cells = (layout.grid.cell(row, column.at) for row in layout.body)
    return list(islice((c for c in cells if not is_blank(c) and not is_ditto(c)), _SAMPLE))
