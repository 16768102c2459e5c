"""The iCalendar file, read by a library other than the one that writes it."""

import datetime as dt
from typing import Any

import vobject
from icalendar import Calendar

from layers.nesting.calendar import nest_calendar
from layers.nesting.dating import date_attempts
from layers.nesting.forecast import forecast
from layers.nesting.histories import Histories, read_histories
from tests.nesting.dating.nests import PIPER, piper_guide
from tests.nesting.notebook import coded, seen

NOON = dt.datetime(2026, 5, 22, 12, tzinfo=dt.UTC)
TODAY = NOON.date()
VISITS = (seen("05-20", eggs=5, young=0, eggs_warm="yes"), seen("05-21", eggs=0, young=5))


def histories(*more: dict[str, Any], boxes: tuple[str, ...] = ("A1", "B,2; east")) -> Histories:
    rows = [{"species": PIPER} | visit | {"box": box} for box in boxes for visit in VISITS]
    rows += [{"species": PIPER} | visit for visit in more]
    return read_histories(coded(*rows), piper_guide(), season_starts="01-01")


def made(
    found: Histories, *, version: int = 7, boxes: tuple[str, ...] | None = None, on: dt.date = TODAY
) -> bytes:
    return nest_calendar(
        found,
        date_attempts(found),
        on=on,
        trail="Alderbeck",
        made_at=NOON,
        version=version,
        boxes=boxes,
    )


def events(ical: bytes) -> dict[str, Any]:
    """Events by id, as another library reads them."""
    calendar = vobject.readOne(ical.decode())
    found = calendar.contents.get("vevent", [])
    by_id = {event.uid.value: event for event in found}
    assert len(by_id) == len(found), "two events share an id"
    return by_id


def test_another_library_reads_the_days_that_were_written() -> None:
    found = histories(boxes=("A1",))
    told = forecast(found, date_attempts(found), 0, on=dt.date(2026, 5, 22))
    expected = {
        (one.first, (one.last or one.first) + dt.timedelta(days=1), one.text)
        for one in told
        if one.kind in ("hatching", "banding", "box stays closed", "check and clean")
    }
    read = {
        (event.dtstart.value, event.dtend.value, event.description.value)
        for event in events(made(found)).values()
    }
    assert read == expected
    assert len(read) == 3


def test_every_event_is_whole_days_and_marks_no_one_busy() -> None:
    for event in events(made(histories())).values():
        assert type(event.dtstart.value) is dt.date
        assert event.transp.value == "TRANSPARENT"
        assert event.dtstamp.value == NOON


def test_box_ids_with_commas_and_semicolons_come_through() -> None:
    summaries = [event.summary.value for event in events(made(histories())).values()]
    assert "Box B,2; east: keep closed (reed piper)" in summaries


def test_a_second_import_doubles_nothing_and_moves_what_changed() -> None:
    calendar = events(made(histories()))
    # A visit to one box makes its young two days younger than they could have been thought.
    later = histories(seen("05-24", young=5, young_days=2))
    again = events(made(later, version=8))
    assert set(again) == set(calendar)
    merged = calendar | again
    assert len(merged) == len(calendar)
    assert all(int(event.sequence.value) == 8 for event in again.values())


def test_events_of_another_trail_or_attempt_have_other_ids() -> None:
    found = histories()
    other = nest_calendar(
        found,
        date_attempts(found),
        on=dt.date(2026, 5, 22),
        trail="Elsewhere",
        made_at=NOON,
        version=7,
    )
    assert not set(events(other)) & set(events(made(found)))


def test_one_box_has_a_calendar_of_its_own() -> None:
    summaries = [event.summary.value for event in events(made(histories(), boxes=("A1",))).values()]
    assert summaries
    assert all(summary.startswith("Box A1:") for summary in summaries)


def test_a_trail_without_nests_gives_an_empty_calendar() -> None:
    found = read_histories(coded(seen("05-01", nest="none")), piper_guide(), season_starts="01-01")
    assert events(made(found)) == {}


def test_lines_are_folded_and_end_as_the_standard_asks() -> None:
    lines = made(histories()).split(b"\r\n")
    assert all(len(line) <= 75 for line in lines)
    assert b"\n" not in b"".join(lines)


def test_a_nest_found_over_calls_its_events_off_under_the_same_ids() -> None:
    before = events(made(histories(boxes=("A1",))))
    gone = seen("05-27", nest="none", eggs=0, young=0, signs="nest torn")
    after = events(made(histories(gone, boxes=("A1",)), version=8, on=dt.date(2026, 5, 28)))
    assert set(before) <= set(after)
    assert {event.status.value for event in after.values()} == {"CANCELLED"}
    assert len(before | after) == 4
    long_after = made(histories(gone, boxes=("A1",)), version=9, on=dt.date(2026, 8, 1))
    assert events(long_after) == {}


def test_a_calendar_program_reads_how_often_to_look_again_and_what_changed_last() -> None:
    ical = made(histories())
    assert b"REFRESH-INTERVAL;VALUE=DURATION:PT12H\r\n" in ical
    for event in events(ical).values():
        assert event.last_modified.value <= NOON


def test_a_reader_of_the_same_standard_by_another_hand_gets_every_event_back() -> None:
    calendar = vobject.readOne(made(histories()).decode())
    again = events(calendar.serialize().encode())
    assert set(again) == set(events(made(histories())))


def test_the_end_of_a_nest_is_listed_from_when_it_was_found_however_long_ago_it_was() -> None:
    late = seen("09-20", nest="none", eggs=0, young=0, signs="flattened")
    found = made(histories(late, boxes=("A1",)), version=8, on=dt.date(2026, 9, 21))
    assert {event.status.value for event in events(found).values()} == {"CANCELLED"}


def test_visits_later_than_the_day_are_not_known_on_it() -> None:
    gone = seen("05-27", nest="none", eggs=0, young=0, signs="nest torn")
    assert made(histories(gone)) == made(histories())


def test_a_trails_name_is_escaped_as_the_standard_asks() -> None:
    name = 'Mill, Pond; "North" \\ South\nEast'
    found = histories()
    ical = nest_calendar(found, date_attempts(found), on=TODAY, trail=name, made_at=NOON, version=7)
    calendar = vobject.readOne(ical.decode())
    assert calendar.x_wr_calname.value == f"{name}: nests"
    assert rb'NAME:Mill\, Pond\; "North" \\ South\nEast: nests' in ical


def test_every_line_of_an_event_is_as_the_library_writes_a_whole_event() -> None:
    ical = made(histories(seen("05-27", nest="none", eggs=0, young=0)), on=dt.date(2026, 5, 28))
    assert b"STATUS:CANCELLED\r\n" in ical
    again = Calendar.from_ical(ical).to_ical(sorted=False)
    assert sorted(again.split(b"\r\n")) == sorted(ical.split(b"\r\n"))
    assert b"DTSTART;VALUE=DATE:2026" in ical
    assert b"DTEND;VALUE=DATE:2026" in ical
