"""The days to come as an iCalendar file (RFC 5545) for any calendar program."""

from __future__ import annotations

import uuid
from collections.abc import Collection, Iterator
from datetime import UTC, date, datetime, timedelta

from icalendar import Calendar, Event

from layers.nesting import attempt_columns as c
from layers.nesting.coming import BANDING, CHECK, CLOSED, HATCHING, Coming, coming
from layers.nesting.dating import Dates
from layers.nesting.histories import Histories
from layers.trail.coding import day_number, day_of

KINDS = (HATCHING, BANDING, CLOSED, CHECK)
"""What goes into the calendar."""

REFRESH = timedelta(hours=12)
"""How often a calendar program is asked to look again: twice a day, since dates move with
visits, and those come once a week."""

_SUMMARIES = {
    HATCHING: "Box {box}: hatching expected ({species})",
    BANDING: "Box {box}: banding window, licensed banders only ({species})",
    CLOSED: "Box {box}: keep closed ({species})",
    CHECK: "Box {box}: check whether the young have left ({species})",
}

# Days for which the end of a nest is told: a program that is given a new file once a month
# hears of it (our own choice, no source).
_TOLD_OFF_DAYS = 31

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
    boxes: Collection[str] | None = None,
) -> bytes:
    """Hatching, banding, closed and check days of every nest under way, as an iCalendar file.

    Each event keeps its id (UID) from file to file, so that a calendar program that reads
    a later file moves its events and doubles none. When a nest is over, its events are
    called off (STATUS:CANCELLED), so that a program which only ever adds what it reads
    takes them out too. Events are whole days and mark nobody as busy.

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
    boxes
        Only these; None = all.
    """
    calendar = Calendar()
    calendar.add("prodid", "-//Boxround//Nest calendar//EN")
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    calendar.add("name", f"{trail}: nests")  # RFC 7986; the next line is for older programs
    calendar.add("x-wr-calname", f"{trail}: nests")
    calendar.add("refresh-interval", REFRESH, parameters={"value": "DURATION"})
    for attempt in _attempts(histories, boxes):
        entered = datetime.fromtimestamp(_last_entry_s(histories, attempt), UTC)
        for event in _events(histories, dates, attempt, on=on, trail=trail):
            event.add("dtstamp", made_at)
            event.add("last-modified", min(entered, made_at))
            event.add("sequence", version)
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


def _attempts(histories: Histories, boxes: Collection[str] | None) -> Iterator[int]:
    if boxes is None:
        yield from range(len(histories))
        return
    for box in histories.visits.boxes:
        if box in boxes:
            yield from histories.attempts_of(box)


def _last_entry_s(histories: Histories, attempt: int) -> int:
    """When something about the attempt's box was last entered, in UTC seconds."""
    visits = histories.visits_of(histories.visits.boxes[histories.rows[attempt, c.BOX]])
    return int(histories.visits.entered_s[visits.start : visits.stop].max())


def _events(
    histories: Histories, dates: Dates, attempt: int, *, on: date, trail: str
) -> Iterator[Event]:
    row = histories.rows[attempt]
    (fate,) = histories.fates(on, among=slice(attempt, attempt + 1))
    if fate == c.ONGOING:
        for one in coming(histories, dates, attempt, on=on):
            if one.kind in KINDS:
                yield _event(histories, attempt, one, trail=trail)
    elif row[c.LAID] == 1 and 0 <= day_number(on) - row[c.END] <= _TOLD_OFF_DAYS:
        for kind in KINDS:
            yield _called_off(histories, attempt, kind, trail=trail)


def _event(histories: Histories, attempt: int, one: Coming, *, trail: str) -> Event:
    event = Event()
    event.add("uid", event_id(histories, attempt, kind=one.kind, trail=trail))
    event.add("dtstart", one.first)
    event.add("dtend", (one.last or one.first) + timedelta(days=1))
    event.add("summary", _summary(histories, attempt, one.kind))
    event.add("description", one.said)
    return event


def _called_off(histories: Histories, attempt: int, kind: str, *, trail: str) -> Event:
    over = day_of(int(histories.rows[attempt, c.END]))
    event = Event()
    event.add("uid", event_id(histories, attempt, kind=kind, trail=trail))
    event.add("dtstart", over)
    event.add("dtend", over + timedelta(days=1))
    event.add("summary", _summary(histories, attempt, kind))
    event.add("description", "The nest is over.")
    event.add("status", "CANCELLED")
    return event


def _summary(histories: Histories, attempt: int, kind: str) -> str:
    row = histories.rows[attempt]
    species = histories.species_name(int(row[c.SPECIES])) or "species not recorded"
    return _SUMMARIES[kind].format(box=histories.visits.boxes[row[c.BOX]], species=species)
