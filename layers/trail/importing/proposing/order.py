"""Which of day and month comes first in a file, and which year is meant where none is written."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date, datetime, time

from layers.trail.importing.dates import DayOrder
from layers.trail.importing.proposing.answers import Place, Question, Settled
from layers.trail.importing.proposing.days import (
    Written,
    order_shown,
    order_that_never_runs_back,
    written_day,
)
from layers.trail.importing.proposing.tables import Layout

_YEAR = re.compile(r"(?<!\d)(?:19|20)\d\d(?!\d)")
DAY_FIRST: DayOrder = "day-first"
MONTH_FIRST: DayOrder = "month-first"
_AS_SHOWN, _SWAPPED = "as shown", "swapped"


class DayReader:
    """Reads day cells; the order of a whole file is settled first, from all its days."""

    def __init__(
        self, layouts: Sequence[Layout], settled: Settled, *, today: date, file: str
    ) -> None:
        self._settled = settled
        self._today = today
        self._file = file
        self._written = [one for layout in layouts for one in self._days(layout)]
        self._name = next(
            (c.heading for at in layouts for c in at.columns if c.role == "date"), "headings"
        )
        self._swap = self._programs_swapped()

    def _days(self, layout: Layout) -> list[tuple[object, Written]]:
        cells: list[object] = [
            value for name, (_, _, value) in layout.context.items() if name == "date"
        ]
        for column in layout.columns:
            if column.role == "date":
                cells += [layout.grid.cell(row, column.at) for row in layout.body]
        found = [(cell, one) for cell in cells if (one := written_day(cell, today=self._today))]
        return found + [(None, c.day) for c in layout.columns if c.day is not None]

    def read(self, cell: object, place: Place, layout: Layout) -> Written | date | None:
        """The day of a cell; the `Written` where a question about it is open, None if no day."""
        written = cell if isinstance(cell, Written) else written_day(cell, today=self._today)
        if written is None:
            return None
        year = written.year or self._year(layout, place)
        if year is None:
            return written
        order = written.order
        if order is None and written.first != written.second:
            answer = self._order(written, place)
            if answer is None:
                return written
            order = DAY_FIRST if answer == DAY_FIRST else MONTH_FIRST
        day = written.day(order=order, year=year)
        if day is not None and isinstance(cell, date) and self._swap:
            mixed = self._mixed(place)
            if mixed is None:
                return written
            if mixed == _SWAPPED and day.day <= 12:
                day = date(day.year, day.day, day.month)
        return day

    def clock(self, cell: object) -> time | None:
        """The time of day that a day cell holds too."""
        written = cell if isinstance(cell, Written) else written_day(cell, today=self._today)
        return written.clock.time if written is not None and written.clock is not None else None

    def _order(self, written: Written, place: Place) -> str | None:
        """Day-first or month-first, settled once for all cells of the file."""
        shown = {one for _, one in self._written if one.numeric and one.order is not None}
        orders = order_shown(shown)
        item = f"order in {self._name}"
        if len(orders) == 1:
            order = next(iter(orders))
            example = next(one for one in shown)
            text = f"{example.first} and {example.second} in one of them leave no other reading"
            if self._settled.answer("dates", item) in (None, order):
                return self._settled.decide("dates", item, order, text, place)
        every = [one for _, one in self._written]
        proposal = order_that_never_runs_back(every, year=self._today.year)
        grounds = "read so, the days of the file never run backwards" if proposal else ""
        if len(orders) > 1:
            grounds = "some days can only be read day first, others only month first"
        if len(orders) == 1:
            grounds = f"you said otherwise before, but this file shows {next(iter(orders))}"
            proposal = next(iter(orders))
            item = f"order in {self._name}, this file"
        days = f"{written.first} and {written.second}"
        return self._settled.ask(
            Question(
                "dates",
                item,
                f"Do the days in {self._name!r} begin with the day or the month? (such as {days})",
                {
                    DAY_FIRST: "day first: 03/04 is 3 April",
                    MONTH_FIRST: "month first: 03/04 is March 4",
                },
                proposal=proposal,
                grounds=grounds,
            ),
            place,
        )

    def _year(self, layout: Layout, place: Place) -> int | None:
        """The year of days without one: from the title, the sheet or the file, else a question."""
        held = layout.context.get("year")
        texts = [*layout.titles, layout.grid.sheet, self._file, *([str(held[2])] if held else [])]
        years = {int(year) for text in texts for year in _YEAR.findall(text)}
        years = {year for year in years if year <= self._today.year}
        where = layout.grid.sheet or "the table"
        item = f"year in {where}"
        if len(years) == 1:
            grounds = "the only year in the title, or the name of the sheet or the file"
            text = self._settled.decide("dates", item, str(next(iter(years))), grounds, place)
        else:
            answer = self._settled.ask(
                Question(
                    "dates",
                    item,
                    f"Which year are the days in {where} of? None is written with them.",
                    {str(y): str(y) for y in sorted(years) or [self._today.year]},
                    proposal=str(max(years, default=self._today.year)),
                    free=True,
                ),
                place,
            )
            if answer is None:
                return None
            text = answer
        return int(text) if text.isdecimal() and len(text) == 4 else None

    def _programs_swapped(self) -> bool:
        """Whether a spreadsheet may have taken days for other days: those it could not read
        stayed text, with a number over 12 where it looks for the month.
        """
        texts = [one for cell, one in self._written if isinstance(cell, str) and one.numeric]
        real = [cell for cell, _ in self._written if isinstance(cell, date | datetime)]
        return (
            bool(texts and real)
            and all(one.order is not None for one in texts)
            and all(cell.day <= 12 for cell in real)
            and any(cell.day != cell.month for cell in real)
        )

    def _mixed(self, place: Place) -> str | None:
        return self._settled.ask(
            Question(
                "dates",
                f"text beside days in {self._name}",
                f"In {self._name!r} some cells are text and the others days up to the 12th: the"
                " spreadsheet has likely taken the day for the month. Exchange them back?",
                {
                    _SWAPPED: "yes, exchange day and month",
                    _AS_SHOWN: "no, the days are right as shown",
                },
                proposal=_SWAPPED,
                grounds="the text cells hold days that the program could not have read",
            ),
            place,
        )
