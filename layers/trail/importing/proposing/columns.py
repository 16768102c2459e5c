"""What each column of a table holds: by its heading, else by how its cells look."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date

from layers.trail.importing.proposing.answers import LEAVE_OUT, Place, Question, Settled
from layers.trail.importing.proposing.days import written_day
from layers.trail.importing.proposing.matching import BoxIds, SpeciesNames
from layers.trail.importing.proposing.tables import CONTENTS, Column, Layout, column_cells
from layers.trail.schema import VISITS

OWN = "own column"
"""Kept with the visit under her name for it."""
_PARTS = ("year", "month", "day")
ROLES = (
    *(field.entry_name for field in VISITS.fields if not field.automatic),
    CONTENTS,
    *_PARTS,
)
_MOST_ALIKE = 0.8
_FIRST_NAMED = 26


def settle_columns(
    layout: Layout, settled: Settled, *, ids: BoxIds, species: SpeciesNames, today: date
) -> Layout:
    """The table with a role for each column that holds something."""

    def is_day(cell: object) -> bool:
        return written_day(cell, today=today) is not None

    def is_day_number(cell: object) -> bool:
        return str(cell).strip().isdecimal() and 1 <= int(str(cell)) <= 31

    def is_box(cell: object) -> bool:
        return ids.match(cell).value is not None

    def is_species(cell: object) -> bool:
        return isinstance(cell, str) and species.match(cell).value is not None

    def other_days(column: Column) -> bool:
        """Whether the days are elsewhere: in another column, in the headings, or above."""
        return (
            "date" in layout.context
            or any(one.day is not None for one in layout.columns)
            or any(
                _share(found, is_day) >= _MOST_ALIKE
                for one in layout.columns
                if one is not column and (found := column_cells(layout, one))
            )
        )

    looks: dict[str, Callable[[object], bool]] = {
        "date": is_day,
        "box": is_box,
        "species": is_species,
    }
    taken: set[tuple[str, object]] = set()
    done: list[Column] = []
    recognised = {column.role for column in layout.columns if column.day is None}
    for column in layout.columns:
        cells = column_cells(layout, column)
        if column.day is not None or column.box is not None:
            if column.role is not None and (column.role, column.at) not in taken:
                done.append(column)
            continue
        if not cells and (column.role != "observer" or not _any_written(layout, column)):
            continue
        name = column.heading or f"column {_letter(column.at)}"
        place = Place(layout.grid.sheet, max(layout.header_row, 0) + 1, column.at + 1)
        role, grounds = column.role, "its heading" if column.heading else "its cells"
        if role == "date" and "month" in recognised and _share(cells, is_day_number) >= 0.5:
            role, grounds = "day", "beside a column of months"
        elif role == "date" and other_days(column) and _share(cells, is_day) < 0.5:
            role, grounds = None, "headed like a day, but holds none"
        by_look = role == "box" and layout.header_row < 0
        if role in (None, "leave out") or by_look:
            seen = "box" if by_look else _by_look(role, cells, looks, recognised)
            if seen == "box" and not all(_has_letter(cell) for cell in cells):
                answer = settled.ask(_which_box(name), place)
                role, grounds = answer or LEAVE_OUT, "your answer"
                if role == LEAVE_OUT and answer:
                    recognised.discard("box")
            elif seen is not None:
                role, grounds = seen, f"its cells: each is a {seen}"
                recognised.add(seen)
        if role is None:
            role, grounds = OWN, grounds if column.role else "no heading of ours"
        if (role, None) in taken and role not in (OWN, LEAVE_OUT, "note", CONTENTS):
            role, grounds = OWN, f"another column is {role} already"
        role = settled.decide("columns", name, role, grounds, place)
        taken.add((role, None))
        if role != LEAVE_OUT:
            done.append(replace(column, role=role, heading=name))
    return replace(layout, columns=tuple(done))


def _by_look(
    role: str | None,
    cells: Sequence[object],
    looks: dict[str, Callable[[object], bool]],
    recognised: set[str | None],
) -> str | None:
    parts = recognised & set(_PARTS)
    for name, fits in looks.items():
        if name in recognised or (name == "date" and parts):
            continue
        if role == "leave out" and name != "box":
            continue
        if _share(cells, fits) >= _MOST_ALIKE:
            return name
    return None


def _which_box(name: str) -> Question:
    return Question(
        "columns",
        name,
        f"Does the column {name!r} hold the box of each row?",
        {"box": "yes, the number of the box", LEAVE_OUT: "no, leave it out"},
        proposal="box",
        grounds="its numbers are ids of your boxes, and no other column names them",
    )


def _any_written(layout: Layout, column: Column) -> bool:
    """Whether a column holds anything, "NA" among it: of an observer that may be initials."""
    return any(layout.grid.cell(row, column.at) is not None for row in layout.body)


def _share(cells: Sequence[object], fits: Callable[[object], bool]) -> float:
    return sum(map(fits, cells)) / len(cells)


def _has_letter(cell: object) -> bool:
    return isinstance(cell, str) and any(letter.isalpha() for letter in cell)


def _letter(at: int) -> str:
    """The name of a column as spreadsheet programs show it."""
    letters = ""
    at += 1
    while at:
        at, rest = divmod(at - 1, _FIRST_NAMED)
        letters = chr(ord("A") + rest) + letters
    return letters
