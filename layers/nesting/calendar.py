"""The days to come as an iCalendar file (RFC 5545) for any calendar program."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from datetime import date, datetime, timedelta

from icalendar import Calendar, Event

from layers.nesting import attempt_columns as c
from layers.nesting.coming import BANDING, CHECK, CLOSED, HATCHING, Coming, coming
from layers.nesting.dating import Dates
from layers.nesting.histories import Histories

KINDS = (HATCHING, BANDING, CLOSED, CHECK)
"""What goes into the calendar."""

_SUMMARIES = {
    HATCHING: "Box {box}: hatching expected ({species})",
    BANDING: "Box {box}: banding window, licensed banders only ({species})",
    CLOSED: "Box {box}: keep closed ({species})",
    CHECK: "Box {box}: check whether the young have left ({species})",
}

# A name space of our own for the ids of events, so that they never meet another program's.
_NAMESPACE = uuid.UUID("6f7e3a52-7c2b-5d1e-9a44-b1c0a51d0f3e")


def nest_calendar(
    histories: Histories,
    dates: Dates,
    *,
    on: date,
    trail: str,
    made_at: datetime,
    version: int,
    box: str | None = None,
) -> bytes:
    """Hatching, banding, closed and check days of every nest under way, as an iCalendar file.

    Each event keeps its id (UID) from file to file, so that a calendar program that reads
    a later file moves its events and doubles none. Events are whole days and mark nobody
    as busy.

    Parameters
    ----------
    on
        The day to look from; what lies wholly before it is left out.
    trail
        The trail's name: part of the ids, and the calendar's name.
    made_at
        When the file is made; UTC.
    version
        The trail's version: later files carry higher ones (SEQUENCE).
    box
        Only this box; None = all.
    """
    calendar = Calendar()
    calendar.add("prodid", "-//Boxround//Nest calendar//EN")
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    calendar.add("x-wr-calname", f"{trail}: nests")
    for attempt, one in _to_come(histories, dates, on=on, box=box):
        event = Event()
        event.add("uid", event_id(histories, attempt, kind=one.kind, trail=trail))
        event.add("dtstamp", made_at)
        event.add("sequence", version)
        event.add("dtstart", one.first)
        event.add("dtend", (one.last or one.first) + timedelta(days=1))
        event.add("summary", _summary(histories, attempt, one.kind))
        event.add("description", one.said)
        event.add("transp", "TRANSPARENT")
        calendar.add_component(event)
    ical: bytes = calendar.to_ical()
    return ical


def event_id(histories: Histories, attempt: int, *, kind: str, trail: str) -> str:
    """The id of one event: the same for the same trail, box, season, attempt and kind."""
    row = histories.rows[attempt]
    box = histories.visits.boxes[row[c.BOX]]
    name = "\n".join((trail, box, str(row[c.SEASON]), str(histories.numbers[attempt]), kind))
    return f"{uuid.uuid5(_NAMESPACE, name)}@boxround"


def _to_come(
    histories: Histories, dates: Dates, *, on: date, box: str | None
) -> Iterator[tuple[int, Coming]]:
    attempts = range(len(histories)) if box is None else histories.attempts_of(box)
    fates = histories.fates(on)
    for attempt in attempts:
        if fates[attempt] == c.ONGOING:
            for one in coming(histories, dates, attempt, on=on):
                if one.kind in KINDS:
                    yield attempt, one


def _summary(histories: Histories, attempt: int, kind: str) -> str:
    row = histories.rows[attempt]
    species = histories.species_name(int(row[c.SPECIES])) or "species not recorded"
    return _SUMMARIES[kind].format(box=histories.visits.boxes[row[c.BOX]], species=species)
