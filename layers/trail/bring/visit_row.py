"""One visit from raw cells to a clean row: for files, the web form and the JSON call alike."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime
from functools import partial
from types import MappingProxyType
from typing import Any
from zoneinfo import ZoneInfo

from layers.errors import BadValue
from layers.trail.bring import values
from layers.trail.bring.cells import Cells, RowRead
from layers.trail.bring.days import Clock, DayOrder, read_clock, read_day
from layers.trail.bring.moments import Moment, settle, utc_text
from layers.trail.bring.visit_rules import VisitRules
from layers.trail.schema import VISITS
from layers.trail.visit_id import content_id

COLUMNS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "box": ("box id", "box no", "box number", "nest box", "nestbox", "nestbox id"),
        "date": ("visit date", "date of visit", "seen on", "day"),
        "time": ("visit time", "time of visit", "seen at"),
        "observer": ("observers", "observed by", "visitor", "recorder"),
        "species": ("bird", "bird species"),
        "nest": (),
        "eggs": ("number of eggs", "no of eggs", "egg count"),
        "eggs_warm": ("warm eggs", "eggs are warm"),
        "young": ("live young", "number of young", "no of young", "nestlings", "chicks"),
        "young_days": ("age of young", "age of young days", "young age days"),
        "dead_young": ("young dead", "dead nestlings", "dead chicks"),
        "adult": ("adults", "parent"),
        "signs": ("sign",),
        "actions": ("action", "work done"),
        "opened": ("box opened",),
        "note": ("notes", "comment", "comments", "remarks"),
        "visit_id": ("visit uuid",),
        "entered_at": ("entered",),
        "replaces": ("corrects",),
    }
)
"""Columns a person gives, each with other plain names for it."""


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
        Where the visit stands, for the faults.

    The values are as `Trail.visit_rows` gives them. A visit without an id gets one made
    from its content, so the same visit brought again has the same id. `entered_at` stays
    None unless given: the trail file fills it in.
    """
    cells = Cells(raw, row=row, file=file)
    for strange in sorted(raw.keys() - COLUMNS.keys()):
        cells.fault(f"columns of a visit: {', '.join(COLUMNS)}", values.said(strange), strange)
    clean: dict[str, Any] = dict.fromkeys(VISITS.columns)
    clean["box"] = cells.need("box", rules.box, expected="the id of a box")
    moment = _moment(cells, rules)
    if moment is not None:
        clean["seen_on"] = moment.day.isoformat()
        clean["seen_at"] = None if moment.at is None else utc_text(moment.at)
    for name, reader in rules.readers.items():
        if name in raw:
            clean[name] = cells.take(name, reader)
    if clean["replaces"] is not None and clean["replaces"] == clean["visit_id"]:
        cells.fault("the id of another visit", clean["replaces"], "replaces")
    if not cells.faults and clean["visit_id"] is None:
        clean["visit_id"] = content_id(clean)
    notes = () if moment is None or moment.note is None else (moment.note,)
    return cells.read(clean, notes=notes)


def _moment(cells: Cells, rules: VisitRules) -> Moment | None:
    """When the visit was; None where a fault was noted."""
    written = cells.need(
        "date", partial(read_day, order=rules.dates), expected="a date like 2026-05-14"
    )
    timed = cells.take("time", partial(_time_cell, order=rules.dates))
    if written is None:
        return None
    day, moment = written[0], None
    if timed is not None or not cells.has("time"):
        try:
            moment = _settled(written, timed, rules.zone)
            day = moment.day
        except BadValue as error:
            cells.fault(error.fault.expected, error.fault.came, "time")
    if day > rules.today:
        cells.fault(f"a date not after {rules.today}, today", str(day), "date")
    return moment


def _settled(
    written: tuple[date, Clock | None], timed: tuple[date | None, Clock] | None, zone: ZoneInfo
) -> Moment:
    """The moment by the date cell and the time cell together."""
    day, clock = written
    if timed is None:
        return settle(day, clock, zone)
    own_day, own_clock = timed
    if clock is not None and clock != own_clock:
        raise BadValue(
            f"the time that the date holds, {clock.time:%H:%M}", f"{own_clock.time:%H:%M}"
        )
    if own_day is None:
        return settle(day, own_clock, zone)
    # A whole moment in UTC may bear another day than the local one, which the date is.
    moment = settle(own_day, own_clock, zone)
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
