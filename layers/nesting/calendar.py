"""The days to come as an iCalendar file (RFC 5545) for any calendar program.

A UID is made from trail, box, season, number of the nest and kind of event; SEQUENCE is the
trail's version. Events of a finished nest are sent as CANCELLED for 31 days, for programs that
only ever add. The library writes each line once and the line is cached (`_Lines`); a test
compares them with whole events of the library.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Any

from icalendar import Calendar, vDDDTypes, vInt, vText
from icalendar.parser import Contentline

from layers.nesting import attempt_columns as c
from layers.nesting.dating import Dates, known_on, stage_days
from layers.nesting.dating.stages import END
from layers.nesting.forecast import BANDING, CHECK, CLOSED, HATCHING, forecast
from layers.nesting.histories import Histories
from layers.trail.coding import day_number, day_of

KINDS = (HATCHING, BANDING, CLOSED, CHECK)
"""What goes into the calendar."""

REFRESH = timedelta(hours=12)
"""How often a calendar program is to read the file again: twice a day, since dates move with
visits, and those come once a week."""

_SUMMARIES = {
    HATCHING: "Box {box}: hatching expected ({species})",
    BANDING: "Box {box}: banding window, licensed banders only ({species})",
    CLOSED: "Box {box}: keep closed ({species})",
    CHECK: "Box {box}: check whether the young have left ({species})",
}

# Days for which the events of a nest that is over are cancelled: enough for a program that is
# given a new file once a month (our own choice, no source).
_CANCELLED_DAYS = 31

_BEGIN_EVENT, _END_EVENT = b"BEGIN:VEVENT\r\n", b"END:VEVENT\r\n"
_END = b"END:VCALENDAR\r\n"

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
    takes them out too. Events are whole days and mark no one as busy.

    Parameters
    ----------
    on
        The day to look from: only visits up to it are used, and what is wholly before it
        is left out.
    dates
        Those of `histories`; used where no visit is later than `on`.
    trail
        The trail's name: part of the ids, and the calendar's name.
    made_at
        When the file is made; UTC.
    version
        The trail's version: later files carry higher ones (SEQUENCE).
    boxes
        Only these; None = all.
    """
    histories, dates = known_on(histories, on, dates)
    calendar = Calendar()
    calendar.add("prodid", "-//Boxround//Nest calendar//EN")
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    name = vText(f"{trail}: nests")
    calendar["name"] = name  # RFC 7986; the next line is for older programs
    calendar["x-wr-calname"] = name
    calendar.add("refresh-interval", REFRESH, parameters={"value": "DURATION"})
    whole: bytes = calendar.to_ical()
    head, tail = whole[: -len(_END)], whole[-len(_END) :]
    assert tail == _END
    lines = _Lines()
    always = [
        lines.written("DTSTAMP", vDDDTypes(made_at)),
        lines.written("SEQUENCE", vInt(version)),
        lines.text("TRANSP", "TRANSPARENT"),
    ]
    events = []
    for attempt in _attempts(histories, boxes):
        entered = datetime.fromtimestamp(_last_entry_s(histories, attempt), UTC)
        changed = lines.written("LAST-MODIFIED", vDDDTypes(min(entered, made_at)))
        for event in _events(histories, dates, attempt, on=on, trail=trail):
            events += [_BEGIN_EVENT, *lines.of(event), *always, changed, _END_EVENT]
    return b"".join([head, *events, tail])


@dataclass(frozen=True)
class _Event:
    """Whole days in the calendar, both included."""

    uid: str
    first: date
    last: date
    summary: str
    text: str
    called_off: bool = False


class _Lines:
    """Properties as the library writes them: escaped, folded, with their parameters.

    A component of the library writes each of its lines anew, and most are the same in event
    after event. So lines that come again are cached.
    """

    def __init__(self) -> None:
        self._cache: dict[tuple[str, str | date], bytes] = {}

    def of(self, event: _Event) -> Iterator[bytes]:
        yield self.written("UID", vText(event.uid))
        yield self.day("DTSTART", event.first)
        yield self.day("DTEND", event.last + timedelta(days=1))
        yield self.written("SUMMARY", vText(event.summary))
        yield self.text("DESCRIPTION", event.text)
        if event.called_off:
            yield self.text("STATUS", "CANCELLED")

    def day(self, name: str, day: date) -> bytes:
        return self._once(name, day, vDDDTypes)

    def text(self, name: str, text: str) -> bytes:
        return self._once(name, text, vText)

    def _once(self, name: str, value: Any, kind: Callable[[Any], Any]) -> bytes:
        line = self._cache.get((name, value))
        if line is None:
            line = self._cache[name, value] = self.written(name, kind(value))
        return line

    @staticmethod
    def written(name: str, value: Any) -> bytes:
        line: bytes = Contentline.from_parts(name, value.params, value).to_ical()
        return line + b"\r\n"


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
) -> Iterator[_Event]:
    row = histories.rows[attempt]

    def event(kind: str, first: date, last: date, text: str, *, called_off: bool) -> _Event:
        uid = event_id(histories, attempt, kind=kind, trail=trail)
        return _Event(uid, first, last, _summary(histories, attempt, kind), text, called_off)

    (fate,) = histories.fates(on, among=slice(attempt, attempt + 1))
    if fate == c.ONGOING:
        for one in forecast(histories, dates, attempt, on=on):
            if one.kind in KINDS:
                last = one.last or one.first
                yield event(one.kind, one.first, last, one.text, called_off=False)
    elif row[c.LAID] == 1 and day_number(on) - histories.known_over[attempt] <= _CANCELLED_DAYS:
        among = slice(attempt, attempt + 1)
        over = day_of(stage_days(histories, dates, among=among)[0, END])
        for kind in KINDS:
            yield event(kind, over, over, "The nest is over.", called_off=True)


def _summary(histories: Histories, attempt: int, kind: str) -> str:
    row = histories.rows[attempt]
    species = histories.species_name(int(row[c.SPECIES])) or "species not recorded"
    return _SUMMARIES[kind].format(box=histories.visits.boxes[row[c.BOX]], species=species)
