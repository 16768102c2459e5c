"""The rows that people enter about one box through a season."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from random import Random
from typing import Any
from zoneinfo import ZoneInfo

from data_demo.biology import BIOLOGY
from data_demo.hard_cases import ADULT_SITTING, CORRECTIONS, TWO_VISITS_A_DAY
from data_demo.observers import Notebook, Observer
from data_demo.story import BoxStory
from layers.trail.schema import VISITS

VISIT_COLUMNS = VISITS.columns
"""The keys of every visit row."""

Row = dict[str, Any]

_EPOCH = date(1970, 1, 1)

# Invented: minutes from one box of a walk to the next, and when an odd visit begins.
_MINUTES_A_BOX = 7
_ODD_VISIT_MINUTE = 9 * 60


@dataclass(frozen=True, slots=True)
class Round:
    """One morning's walk: who goes, and minutes after midnight at the first box."""

    by: Observer
    start_minute: int


def box_records(
    story: BoxStory,
    *,
    case: str | None,
    rounds: Mapping[int, Round],
    place: int,
    observers: Sequence[Observer],
    zone: ZoneInfo,
) -> list[Row]:
    """Rows of one box, in the order of the days; corrections stand behind what they mend.

    Parameters
    ----------
    rounds
        Rounds by day. On another day anyone may come.
    place
        Which box of the walk this is, from 0.
    """
    desk = _Desk(story, zone)
    notebook = Notebook(random=story.random, lets_sit=case == ADULT_SITTING)
    rows: list[Row] = []
    twice = _days_seen_twice(story) if case == TWO_VISITS_A_DAY else set()
    for day in story.visit_days():
        walk = rounds.get(day) or Round(story.random.choice(observers), _ODD_VISIT_MINUTE)
        minute = walk.start_minute + _MINUTES_A_BOX * place
        deed = story.deeds.get(day)
        cells = notebook.write(story.inside(day), day=day, by=walk.by, deed=deed)
        rows.append(desk.row(cells, day=day, minute=minute, by=walk.by))
        if day in twice:
            other = story.random.choice([one for one in observers if one != walk.by] or [walk.by])
            later = minute + story.random.randint(60, 240)
            cells = notebook.write(story.inside(day), day=day, by=other)
            rows.append(desk.row(cells, day=day, minute=later, by=other))
    if case == CORRECTIONS:
        rows = desk.with_corrections(rows)
    return rows


def _days_seen_twice(story: BoxStory) -> set[int]:
    """Up to three days with a nest in the box, and no deed that would change it."""
    days = [day for day in story.visit_days() if day not in story.deeds]
    nesting = [day for day in days if story.inside(day).species is not None]
    choices = nesting or days
    return set(story.random.sample(choices, min(3, len(choices))))


class _Desk:
    """Where the rows of a box are entered, mostly within a few days."""

    def __init__(self, story: BoxStory, zone: ZoneInfo) -> None:
        self._box = story.box
        self._random: Random = story.random
        self._zone = zone
        self._closes = self._moment(story.until, 23 * 60)

    def row(self, cells: Mapping[str, Any], *, day: int, minute: int, by: Observer) -> Row:
        row: Row = dict.fromkeys(VISIT_COLUMNS)
        row.update(cells)
        row["visit_id"] = self._new_id()
        row["box"] = self._box
        row["seen_on"] = _EPOCH + timedelta(days=day)
        row["observer"] = by.name
        if self._random.random() < by.notes_time:
            row["seen_at"] = self._moment(day, minute)
        days_later = self._random.choices((0, 1, 2, 3), (6, 2, 1, 1))[0]
        evening = self._moment(day + days_later, self._random.randint(18 * 60, 22 * 60))
        row["entered_at"] = min(evening, self._closes)
        return row

    def with_corrections(self, rows: list[Row]) -> list[Row]:
        """The rows with up to two of them first entered wrongly, then put right."""
        in_time = [i for i, row in enumerate(rows) if row["entered_at"] < self._closes]
        informative = [i for i in in_time if rows[i]["eggs"] or rows[i]["young"]]
        choices = informative or in_time
        wrong = set(self._random.sample(choices, min(2, len(choices))))
        entered: list[Row] = []
        for i, row in enumerate(rows):
            entered += self._corrected(row) if i in wrong else [row]
        return entered

    def _corrected(self, right: Row) -> list[Row]:
        wrong = right | {"visit_id": self._new_id()}
        slips = ["day"] + (["count"] if right["eggs"] else []) + (["species"] * 2)
        slip = self._random.choice(slips)
        if slip == "day":
            wrong |= {"seen_on": right["seen_on"] - timedelta(days=7), "seen_at": None}
        elif slip == "count":
            wrong |= {"eggs": None, "young": right["eggs"]}
        else:
            others = [name for name in BIOLOGY if name != right["species"]]
            wrong["species"] = self._random.choice(others)
        noticed = right["entered_at"] + timedelta(days=self._random.randint(1, 12))
        mended = right | {"entered_at": min(noticed, self._closes), "replaces": wrong["visit_id"]}
        return [wrong, mended]

    def _new_id(self) -> str:
        return str(uuid.UUID(int=self._random.getrandbits(128), version=4))

    def _moment(self, day: int, minute: int) -> datetime:
        """UTC moment of a local day and minute after midnight."""
        local = datetime.combine(_EPOCH + timedelta(days=day), datetime.min.time(), self._zone)
        return (local + timedelta(minutes=minute)).astimezone(UTC)
