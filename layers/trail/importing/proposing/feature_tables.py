"""Tables of boxes and paths as people keep them: the header row is found, its words are ours.

Lines above the header, sums, lines of their own and headers that come again are left out.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from layers.errors import BadValue
from layers.trail.importing.cells import decimal, is_blank
from layers.trail.importing.columns import COLUMNS, Kind
from layers.trail.importing.proposing.answers import LEAVE_OUT, Place, Question, Settled
from layers.trail.importing.proposing.grids import Grid, read_grids
from layers.trail.importing.proposing.tables import filled
from layers.trail.importing.proposing.vocabulary import fold, is_ditto, is_total, role_of, words
from layers.trail.importing.source import Row, Table, refused

POSITION, HOLE = "position", "hole"
SYSTEM = "reference system"
"""The question, among those about columns, of a file whose coordinates state none."""
_PLACES = (("lat", "lon"), ("x", "y"), (POSITION,), ("geometry",))
_NAMES: Mapping[str, str] = {"boxes": "box", "paths": "name", "places": "name", "zones": "name"}
_MAX_HEADER_ROW = 60
_DITTO = frozenset({"section", "habitat", "mount", "faces", HOLE, "hole_mm", "hole_in", "kind"})
_SPLIT_BY_SIDE = re.compile(
    r"(.*\d[^\d,;]*?[NS]|[NS][^EWO]*\d\S*)\s*[,;/]?\s*((?=.*[EWO]).*)", re.I
)
_HOLES = {"hole_mm": "millimetres", "hole_cm": "centimetres", "hole_in": "inches"}


def feature_roles(kind: Kind) -> tuple[str, ...]:
    """What a column of a table of such features may hold."""
    placed = ("lat", "lon", "x", "y", POSITION) if kind in ("boxes", "places") else ()
    return (*COLUMNS[kind], *placed, "geometry")


class TidyTable:
    """The sheet of a file that holds such features, and a table of it with our names as header."""

    def __init__(self, path: Path, kind: Kind, settled: Settled) -> None:
        sheets = read_grids(path)
        self._kind = kind
        self._settled = settled
        self._file = path.name
        self.left_out: list[tuple[Place, str]] = []
        found = [(grid, at) for grid in sheets.grids if (at := self._header(grid)) is not None]
        if not found:
            wanted = "boxes and their places" if kind == "boxes" else f"{kind} and their shapes"
            raise refused(path.name, f"a row of headings for {wanted}", "none that reads like one")
        self._grid, self._at = found[0]
        self._notes = list(sheets.notes)
        if len(found) > 1:
            self._notes.append(f"sheet {self._grid.sheet} read, not {found[1][0].sheet}")

    def table(self) -> Table:
        """The rows below the header; a place in one cell is two."""
        roles = self._roles()
        header = tuple(
            name for role in roles for name in (("lat", "lon") if role == POSITION else (role,))
        )
        table = Table(self._file, header, iter(()), notes=self._notes)
        table.rows = self._rows(roles)
        return table

    def _header(self, grid: Grid) -> int | None:
        """The row that names both what the features are called and where they are."""
        for at, row in enumerate(grid.rows[:_MAX_HEADER_ROW]):
            cells = filled(row)
            roles = {self._role(str(cell)) for _, cell in cells}
            named = _NAMES[self._kind] in roles or (self._kind == "boxes" and "name" in roles)
            if named and any(roles.issuperset(place) for place in _PLACES):
                return at
        return None

    def _role(self, heading: str) -> str | None:
        text = fold(heading)
        ours = {fold(name): name for name in feature_roles(self._kind)}
        ours |= {fold(w): name for name, more in COLUMNS[self._kind].items() for w in more}
        listed = words("path headings" if self._kind == "paths" else "box headings")
        plain = fold(re.sub(r"[(\[].*?[)\]]", " ", heading))
        for words_of in (ours, listed):
            for way in (text, plain):
                if way in words_of:
                    return words_of[way]
        shared = role_of(heading)
        return shared if self._kind == "boxes" and shared in ("box", "note") else None

    def _roles(self) -> list[str]:
        row = self._grid.rows[self._at]
        width = max(len(one) for one in self._grid.rows[self._at :])
        taken: set[str] = set()
        found: list[str] = []
        guessed = [self._role(str(cell)) if cell is not None else None for cell in row]
        for column in range(width):
            heading = (
                " ".join(str(row[column]).split()) if column < len(row) and row[column] else ""
            )
            role = guessed[column] if column < len(guessed) else None
            grounds = "its heading"
            if role == "name" and self._kind == "boxes" and "box" not in guessed:
                role, grounds = "box", "no other column names the boxes"
            place = Place(self._grid.sheet, self._at + 1, column + 1)
            if role == HOLE:
                role = self._hole(heading, column, place)
            if role in taken:
                role, grounds = LEAVE_OUT, f"another column is {role} already"
            if heading:
                role = self._settled.decide(
                    "columns",
                    heading,
                    role or LEAVE_OUT,
                    grounds if role else "none of ours",
                    place,
                )
            taken.add(role or LEAVE_OUT)
            found.append(role if role and role != LEAVE_OUT else heading)
        return found

    def _hole(self, heading: str, column: int, place: Place) -> str:
        """The unit of a column of holes that names none."""
        answer = self._settled.ask(
            Question(
                "columns",
                heading,
                f"In which unit is {heading!r}? The heading does not say.",
                {**_HOLES, LEAVE_OUT: "leave it out"},
                proposal=self._likely_unit(column),
                grounds="by the size of its numbers",
            ),
            place,
        )
        return answer or LEAVE_OUT

    def _likely_unit(self, column: int) -> str:
        numbers = []
        for row in range(self._at + 1, len(self._grid.rows)):
            try:
                numbers.append(decimal(self._grid.cell(row, column)))
            except BadValue:
                continue
        middle = sorted(numbers)[len(numbers) // 2] if numbers else 0
        return "hole_mm" if middle >= 10 else "hole_in" if middle < 2.2 else "hole_cm"

    def _rows(self, roles: Sequence[str]) -> Iterator[Row]:
        above: dict[int, object] = {}
        names = {_NAMES[self._kind], *(("box",) if self._kind == "boxes" else ())}
        name_at = next((i for i, role in enumerate(roles) if role in names), 0)
        for number in range(self._at + 1, len(self._grid.rows)):
            row = self._grid.rows[number]
            cells = filled(row)
            if not cells:
                continue
            if why := self._no_feature(cells, len(roles)):
                place = Place(self._grid.sheet, number + 1, cells[0][0] + 1)
                self.left_out.append((place, why))
                continue
            values: list[object] = []
            for column, role in enumerate(roles):
                cell = self._grid.cell(number, column)
                if is_ditto(cell) and role in _DITTO:
                    cell = above.get(column)
                if not is_blank(cell):
                    above[column] = cell
                if column == name_at and isinstance(cell, float) and cell.is_integer():
                    cell = int(cell)
                values += split_position(cell) if role == POSITION else (cell,)
            yield Row(number + 1, self._file, values)

    def _no_feature(self, cells: Sequence[tuple[int, object]], width: int) -> str | None:
        first = cells[0][1]
        if isinstance(first, str) and is_total(first):
            return "it sums up other rows"
        if len(cells) == 1 and width > 2:
            return f"a line of its own: {' '.join(str(first).split())[:60]}"
        roles = [self._role(str(cell)) for _, cell in cells]
        if len(cells) > 2 and all(roles):
            return "the header again"
        return None


def split_position(cell: object) -> tuple[object, object]:
    """Latitude and longitude from one cell; what cannot be parted is left to be refused."""
    if not isinstance(cell, str):
        return cell, None
    text = cell.strip().strip("()[]")
    if sides := _SPLIT_BY_SIDE.fullmatch(text):
        return sides[1].strip(" ,;/"), sides[2].strip(" ,;/")
    for mark in (";", ", ", "/", ",", " "):
        parts = [part.strip() for part in text.split(mark) if part.strip()]
        if len(parts) == 2:
            return parts[0], parts[1]
    return cell, None
