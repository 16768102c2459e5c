"""One visit from raw cells to a clean row: for files, the web form and the JSON call alike."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import cached_property, lru_cache, partial
from typing import Any, Self, TypeVar
from zoneinfo import ZoneInfo

from layers.errors import BadValue, Fault
from layers.trail.importing.cells import (
    Cells,
    RowRead,
    box_id,
    is_blank,
    line,
    quoted,
    read_cell,
    text,
)
from layers.trail.importing.columns import COLUMNS, Reader, reader_of
from layers.trail.importing.dates import (
    Clock,
    DayOrder,
    Moment,
    read_clock,
    read_day,
    resolve_moment,
    utc_text,
)
from layers.trail.schema import VISITS
from layers.trail.store import Trail
from layers.trail.visit_id import content_id
from layers.trail.words import plain_id

T = TypeVar("T")

_SHORT_TEXT = 60
"""Letters of a cell that is worth remembering; 10,000 of them a column take a few MB."""

OBSERVED = tuple(
    field.name
    for field in VISITS.fields
    if not field.automatic and field.name not in ("box", "seen_on", "seen_at", "observer")
)
"""Columns that say what was seen or done; the others say where, when and by whom."""


@dataclass(frozen=True)
class VisitRules:
    """What a visit is checked against.

    Attributes
    ----------
    boxes
        Ids of the boxes of the trail.
    words
        The words of the columns to which a trail may add, its own ones included.
    species
        Gives the guide's name for what a person wrote; raises `BadValue` naming the nearest.
    today
        No visit is later.
    timezone
        IANA name of the trail's time zone.
    dates
        How days like 03/04/2026 are meant; None = such a day is refused.
    """

    boxes: AbstractSet[str]
    words: Mapping[str, tuple[str, ...]]
    species: Callable[[str], str]
    today: date
    timezone: str
    dates: DayOrder | None = None

    @classmethod
    def of(
        cls,
        trail: Trail,
        *,
        species: Callable[[str], str],
        today: date,
        dates: DayOrder | None = None,
    ) -> Self:
        """The rules of a trail as it is now."""
        settings = trail.settings()
        return cls(
            boxes=frozenset(trail.box_ids()),
            words={
                field.name: settings.words(field.name)
                for field in VISITS.fields
                if field.extendable
            },
            species=species,
            today=today,
            timezone=settings.timezone,
            dates=dates,
        )

    @cached_property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.timezone)

    @cached_property
    def readers(self) -> Mapping[str, Callable[[object], Any]]:
        """What reads each cell but those of box, date and time, as `read_cell`, by column."""
        readers: dict[str, Callable[[object], Any]] = {}
        # What the program fills in by itself comes last, as in `COLUMNS`.
        for field in sorted(VISITS.fields, key=lambda field: field.automatic):
            if field.name in ("box", "seen_on", "seen_at"):
                continue
            reader: Reader = reader_of(field, words=self.words.get(field.name), dates=self.dates)
            if field.name == "species":
                reader = self._read_species
            if field.name == "own_columns":
                reader = read_own_columns
            readers[field.name] = _remembering(reader)
        return readers

    def _read_species(self, value: object) -> str:
        return self.species(line(value))

    @cached_property
    def _alike(self) -> dict[str, str]:
        return {plain_id(box): box for box in self.boxes}

    def box(self, value: object) -> str:
        """The id of a box of the trail; another is refused, naming one that reads the same."""
        box = box_id(value)
        if box in self.boxes:
            return box
        alike = self._alike.get(plain_id(box))
        hint = f" (nearest: {alike})" if alike else ""
        raise BadValue(f"the id of a box of this trail{hint}", quoted(box))


def read_visit(
    raw: Mapping[str, object], *, rules: VisitRules, row: int | None = None, file: str | None = None
) -> RowRead:
    """A clean visit, or all its faults.

    Parameters
    ----------
    raw
        Cells by our names (`COLUMNS`), as text or typed; a cell may be missing or blank.
        A name that is not ours is a fault.
    row, file
        Where the visit is, for the faults.

    The values are as `Trail.visit_rows` gives them. A visit without an id gets one made
    from its content, so the same visit imported again has the same id. `entered_at` stays
    None unless given: the trail file fills it in.
    """
    cells = Cells(raw, row=row, file=file)
    for strange in sorted(raw.keys() - COLUMNS["visits"].keys()):
        cells.fault(f"columns of a visit: {', '.join(COLUMNS['visits'])}", quoted(strange), strange)
    clean: dict[str, Any] = dict.fromkeys(VISITS.columns)
    clean["box"] = cells.require("box", rules.box, expected="the id of a box")
    moment = _moment(cells, rules)
    if moment is not None:
        clean["seen_on"] = moment.day.isoformat()
        clean["seen_at"] = None if moment.at is None else utc_text(moment.at)
    observer = raw.get("observer")
    if isinstance(observer, str) and observer.strip() == "NA":
        # Initials, or how some programs write an empty cell: not to be guessed.
        cells.fault("a name, or an empty cell if none was noted", "'NA'", "observer")
    for name, reader in rules.readers.items():
        if name in raw:
            clean[name] = cells.take(name, reader(raw[name]))
    if clean["replaces"] is not None and clean["replaces"] == clean["visit_id"]:
        cells.fault("the id of another visit", clean["replaces"], "replaces")
    if clean["withdraws"] == "yes":
        _check_withdrawal(cells, clean)
    if not cells.faults and clean["visit_id"] is None:
        clean["visit_id"] = content_id(clean)
    notes = () if moment is None or moment.note is None else (moment.note,)
    return RowRead(None if cells.faults else clean, tuple(cells.faults), notes)


def _check_withdrawal(cells: Cells, clean: Mapping[str, Any]) -> None:
    """A withdrawal names a visit, and holds nothing that could be read as seen."""
    if clean["replaces"] is None:
        cells.fault("the id of the visit to withdraw", "nothing", "replaces")
    for name in OBSERVED:
        if clean[name] is not None:
            cells.fault("nothing in a row that withdraws a visit", quoted(clean[name]), name)


def read_own_columns(value: object) -> str | None:
    """A keeper's own columns as they are stored: JSON of names and texts."""
    expected = 'own columns as JSON like {"Temp F": "61"}'
    try:
        held = json.loads(value) if isinstance(value, str) else value
    except ValueError as error:
        raise BadValue(expected, quoted(value)) from error
    if not isinstance(held, Mapping):
        raise BadValue(expected, quoted(value))
    own = {line(name): text(cell) for name, cell in held.items() if not is_blank(cell)}
    return json.dumps(own, ensure_ascii=False) if own else None


def _moment(cells: Cells, rules: VisitRules) -> Moment | None:
    """When the visit was; None where a fault was noted."""
    written = cells.require(
        "date", partial(read_day, order=rules.dates), expected="a date like 2026-05-14"
    )
    timed = cells.optional("time", partial(_time_cell, order=rules.dates))
    if written is None:
        return None
    day, moment = written[0], None
    if timed is not None or not cells.is_filled("time"):
        try:
            moment = _combined(written, timed, rules.zone)
            day = moment.day
        except BadValue as error:
            cells.fault(error.fault.expected, error.fault.came, "time")
    if day > rules.today:
        cells.fault(f"a date not after {rules.today}, today", str(day), "date")
    return moment


def _combined(
    written: tuple[date, Clock | None], timed: tuple[date | None, Clock] | None, zone: ZoneInfo
) -> Moment:
    """The moment by the date cell and the time cell together."""
    day, clock = written
    if timed is None:
        return resolve_moment(day, clock, zone)
    own_day, own_clock = timed
    if clock is not None and clock != own_clock:
        raise BadValue(
            f"the time that the date holds, {clock.time:%H:%M}", f"{own_clock.time:%H:%M}"
        )
    if own_day is None:
        return resolve_moment(day, own_clock, zone)
    # A whole moment in UTC may bear another day than the local one, which the date is.
    moment = resolve_moment(own_day, own_clock, zone)
    if moment.day != day:
        raise BadValue(f"a time on {day}", f"one on {moment.day}")
    return replace(moment, note=None)


def _time_cell(value: object, *, order: DayOrder | None) -> tuple[date | None, Clock]:
    """The day, if the cell holds a whole moment, and the time."""
    if isinstance(value, datetime):
        return value.date(), Clock(value.time(), value.tzinfo)
    if isinstance(value, str):
        try:
            return None, read_clock(value)
        except BadValue:
            try:
                day, clock = read_day(value, order=order)
            except BadValue:
                clock = None
            if clock is None:
                raise
            return day, clock
    return None, read_clock(value)


def _remembering(parse: Callable[[object], T]) -> Callable[[object], T | Fault | None]:
    """Reads a cell; short text that was met before is not read again, as most repeats other."""

    @lru_cache(maxsize=10_000)
    def answer(text: str) -> T | Fault | None:
        return read_cell(text, parse)

    def read(value: object) -> T | Fault | None:
        if isinstance(value, str) and len(value) <= _SHORT_TEXT:
            return answer(value)
        return read_cell(value, parse)

    return read
