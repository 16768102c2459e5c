"""What a keeper is told on every day with young in a box, from the visits before that day."""

from __future__ import annotations

import bisect
import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from data_demo.simulate import Season
from layers.nesting.dating import date_attempts
from layers.nesting.due import OPEN
from layers.nesting.due.approach import how_to_approach
from layers.nesting.due.inputs import BoxInputs, DueInputs
from layers.nesting.guide import standard_guide
from layers.nesting.histories import read_histories
from layers.trail.coding import day_number, day_of
from layers.trail.settings import Settings
from tests.nesting.notebook import coded

_SETTINGS = Settings("Alderbeck", "America/New_York")


@dataclass
class BoxDays:
    """Days with living young: counts of them, and of those at which the box was not closed.

    Attributes
    ----------
    large, large_open
        Young of the guide's closing age (lower end) or older.
    past_unwatched
        Young past the upper end of the closing age, and nothing says to watch first.
    young, young_closed
        Younger ones.
    """

    large: int = 0
    large_open: int = 0
    past_unwatched: int = 0
    young: int = 0
    young_closed: int = 0


def box_days(season: Season, boxes: Sequence[str], *, into: BoxDays) -> None:
    """Count every day on which young lived in a box that someone had opened.

    Every start of a box's visits is read as a box of its own, so that all are read at once.
    """
    guide = standard_guide()
    by_box: dict[str, list[Mapping[str, Any]]] = {box: [] for box in boxes}
    for row in season.visits:
        by_box[row["box"]].append(row)
    days = {box: sorted({day_number(r["seen_on"]) for r in rows}) for box, rows in by_box.items()}
    wanted: dict[int, list[tuple[str, int, int, int]]] = {}
    for nest in season.truth:
        end = day_number(dt.date(2025, 8, 31)) if nest.end_day is None else nest.end_day
        closes = guide.get(nest.species)
        assert closes is not None
        assert closes.closed_from_day is not None
        if nest.hatch_day is None:
            continue
        for day in range(nest.hatch_day, end):
            seen = bisect.bisect_left(days[nest.box], day)
            if seen > 0 and days[nest.box][seen - 1] >= nest.start_day:
                age = day - nest.hatch_day
                state = (age >= closes.closed_from_day.low) + (age > closes.closed_from_day.high)
                wanted.setdefault(day, []).append((nest.box, seen, state, age))
    starts = {(box, seen) for found in wanted.values() for box, seen, *_ in found}
    names = {start: f"{start[0]}#{start[1]}" for start in sorted(starts)}
    rows = [
        {**row, "box": name, "visit_id": f"{name}{i}"}
        for (box, seen), name in names.items()
        for i, row in enumerate(by_box[box])
        if day_number(row["seen_on"]) <= days[box][seen - 1]
    ]
    visits = coded(*rows, boxes=list(names.values()))
    histories = read_histories(visits, guide, season_starts="01-01")
    dates = date_attempts(histories)
    for day, found in sorted(wanted.items()):
        inputs = DueInputs(histories, dates, day_of(day), _SETTINGS, {})
        for box, seen, state, _ in found:
            how, message = how_to_approach(BoxInputs(inputs, names[box, seen]))
            is_open = how == OPEN
            if state == 0:
                into.young += 1
                into.young_closed += not is_open
            else:
                into.large += 1
                into.large_open += is_open
            if state == 2:
                into.past_unwatched += is_open and "atch" not in message
