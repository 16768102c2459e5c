"""Whether a table writes each box once, above or beside the visits that follow."""

from __future__ import annotations

from datetime import date
from itertools import pairwise

from layers.trail.importing.cells import is_blank
from layers.trail.importing.dates import DayOrder
from layers.trail.importing.proposing.days import Written, written_day
from layers.trail.importing.proposing.tables import Column, Layout

_LEAST_BLOCKS = 2
_LEAST_ROWS = 2
_ORDERS: tuple[DayOrder, ...] = ("day-first", "month-first")


def written_once(layout: Layout, box: Column | None, day: Column | None, *, today: date) -> bool:
    """Whether a blank box surely means the one above.

    So it is where no box comes twice, each has two rows or more, days go forward below each of
    them, and begin anew with the next one. In any other table a box may have been forgotten.
    """
    if box is None or day is None:
        return False
    blocks: list[list[Written]] = []
    seen: set[str] = set()
    for row in layout.body:
        held, cell = layout.grid.cell(row, box.at), layout.grid.cell(row, day.at)
        written = written_day(cell, today=today)
        if written is None:
            continue  # a sum, a remark, a blank row
        if not is_blank(held):
            name = str(held).strip().casefold()
            if name in seen:
                return False
            seen.add(name)
            blocks.append([])
        if not blocks:
            return False
        blocks[-1].append(written)
    if len(blocks) < _LEAST_BLOCKS or min(map(len, blocks)) < _LEAST_ROWS:
        return False
    return any(_begins_anew(blocks, order, today.year) for order in _ORDERS)


def _begins_anew(blocks: list[list[Written]], order: DayOrder, year: int) -> bool:
    days = [[one.day(order=order, year=one.year or year) for one in block] for block in blocks]
    read = [[day for day in block if day is not None] for block in days]
    if any(len(one) != len(other) for one, other in zip(days, read, strict=True)):
        return False
    forward = all(before < after for block in read for before, after in pairwise(block))
    return forward and all(after[0] <= before[-1] for before, after in pairwise(read))
