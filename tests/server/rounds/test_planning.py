"""What somebody asks for, and the round that comes of it."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest
import shapely

from layers.errors import BadValue, NotKnown
from layers.nesting.due import NOT_DUE, URGENT
from layers.trail.store import Trail
from layers.walking.round import Proof
from server.live.clock import Clock
from server.live.contents import Contents
from server.live.trail import LiveTrail
from server.rounds import planning
from server.rounds.paths import paths_of
from server.rounds.planning import (
    MORE_MINUTES,
    WATCH_MINUTES,
    Planned,
    describe_proof,
    format_minutes,
    place_names,
    planned,
    planned_once,
)
from server.rounds.request import RoundRequest, known, read_time, read_windows
from tests.server.small_trail import at, line, make_trail

ON = date(2026, 6, 3)


def contents_of(path: Path) -> Contents:
    with Trail.open(path) as trail:
        return Contents.read(trail)


@pytest.fixture(scope="module")
def demo(built: Path) -> Contents:
    return contents_of(built)


def boxes_of(found: Planned) -> list[str]:
    return [box for walk in found.round.walks for stop in walk.stops for box in stop.boxes]


def test_a_saved_visit_leaves_the_network_as_it_is(trail_path: Path) -> None:
    live = LiveTrail(trail_path, clock=Clock(ON), busy_s=1.0)
    live.open()
    before = live.contents()
    with live.borrowed() as trail:
        trail.add_rows("visits", [{"box": "P03", "seen_on": "2026-06-03", "nest": "none"}])
    after = live.contents()
    live.close()
    assert after.version > before.version
    assert paths_of(after.ground, ON) is paths_of(before.ground, ON + timedelta(days=90))


def test_a_round_is_planned_once_for_all_its_faces(demo: Contents) -> None:
    wanted = RoundRequest(on=ON, which="boxes", names=("P01", "P02"))
    first = planned_once(demo, wanted)
    assert planned_once(demo, RoundRequest(on=ON, which="boxes", names=("P01", "P02"))) is first
    assert planned_once(demo, RoundRequest(on=ON, which="boxes", names=("P01",))) is not first


def test_a_search_that_must_end_at_once_still_visits_every_box(
    demo: Contents, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(planning, "MAX_SECONDS", -1.0)
    wanted = RoundRequest(on=ON, which="due", leave_at=421.0)
    due = [one.box for one in demo.due(ON) if one.due]
    assert sorted(boxes_of(planned_once(demo, wanted))) == sorted(due)


def test_the_more_urgent_box_is_kept_where_time_is_short(demo: Contents) -> None:
    urgent = {one.box for one in demo.due(ON) if one.urgency == URGENT}
    free = [one.box for one in demo.due(ON) if one.urgency == NOT_DUE and one.approach == "open"]
    wanted = RoundRequest(
        # The urgent ones alone take 77 minutes.
        on=ON,
        which="boxes",
        names=(*sorted(urgent), *free[:10]),
        budget_minutes=80.0,
    )
    found = planned(demo, wanted)
    assert found.round.left_out
    assert urgent <= set(boxes_of(found))


def test_a_stop_takes_the_time_of_what_is_to_be_done(demo: Contents) -> None:
    found = planned(demo, RoundRequest(on=ON, which="all", stop_minutes=6.0))
    stops = {stop.boxes: stop for walk in found.round.walks for stop in walk.stops}
    told = 0
    for boxes, stop in stops.items():
        minutes = 0.0
        for box in boxes:
            kinds = [reason.kind for reason in found.dues[box].reasons]
            told += bool(set(kinds) & set(MORE_MINUTES))
            more = sum(MORE_MINUTES.get(kind, 0.0) for kind in kinds)
            minutes += WATCH_MINUTES if stop.watch_only else 6.0 + more
        assert stop.minutes == pytest.approx(minutes)
    assert told > 2


def test_boxes_in_closed_days_are_looked_at_from_the_path(demo: Contents) -> None:
    found = planned(demo, RoundRequest(on=ON, which="all"))
    looked = {
        box
        for walk in found.round.walks
        for stop in walk.stops
        if stop.watch_only
        for box in stop.boxes
    }
    closed = {one.box for one in demo.due(ON) if one.approach.startswith("watch")}
    assert closed
    assert looked == closed


def test_the_first_start_is_taken_and_an_unnamed_one_has_a_name(tmp_path: Path) -> None:
    places = [{"kind": "hazard", "geometry": at(5)}, {"kind": "start", "geometry": at(1)}]
    path = make_trail(tmp_path / "t.gpkg", boxes={"A1": at(3)}, places=places)
    found = planned(contents_of(path), RoundRequest(on=ON, which="all"))
    assert (found.start.name, found.end.name) == ("Start", "Start")
    assert place_names(contents_of(path).ground) == ["Start", "Hazard"]


def test_a_box_without_a_place_is_left_out(tmp_path: Path) -> None:
    path = make_trail(tmp_path / "t.gpkg", boxes={"A1": at(3), "A2": None})
    found = planned(contents_of(path), RoundRequest(on=ON, which="all"))
    assert [(left.box, left.reason) for left in found.round.left_out] == [
        ("A2", "it has no place on the map")
    ]


def test_no_box_and_no_section_named_is_said(demo: Contents) -> None:
    with pytest.raises(BadValue, match="the id of at least one box, got none"):
        planned(demo, RoundRequest(on=ON, which="boxes"))
    with pytest.raises(BadValue, match="the name of at least one section, got none"):
        planned(demo, RoundRequest(on=ON, which="section"))


def test_climb_without_heights_is_null_and_not_0(tmp_path: Path) -> None:
    path = make_trail(tmp_path / "t.gpkg", boxes={"A1": at(3, 0.1)})
    told = planned(contents_of(path), RoundRequest(on=ON, which="all")).json()
    assert [stop["climb_m"] for stop in told["stops"]] == [None]
    assert told["climb_m"] is None
    assert told["walks"][0]["climb_m"] is None


def test_a_known_name_is_found_in_any_case_and_nothing_else_is() -> None:
    assert known("gate", ["Gate", "Barn"], "a place") == "Gate"
    with pytest.raises(NotKnown, match=r"Expected a place \(nearest: Gate\), got 'gat'"):
        known("gat", ["Gate", "Barn"], "a place")


@pytest.mark.parametrize(
    ("text", "minutes"), [("08:30", 510.0), ("0:05", 5.0), (" 23:59 ", 1439.0)]
)
def test_a_time_of_day_is_read(text: str, minutes: float) -> None:
    assert read_time(text, column="leave") == minutes


@pytest.mark.parametrize("text", ["24:00", "8", "08:60", "noon", ""])
def test_what_is_no_time_of_day_is_refused(text: str) -> None:
    with pytest.raises(BadValue, match="a time of day like 08:30"):
        read_time(text, column="leave")


@pytest.mark.parametrize(
    ("measure", "value", "bound", "optimal", "said"),
    [
        ("minutes", 50.0, 50.0, True, "Proven: no round over these boxes is quicker."),
        ("minutes of the longest walk", 50.0, 50.0, True, "Proven: no longest walk"),
        ("minutes", 51.0, 50.0, False, "the round at most 1.0 min (2.0%) shorter"),
        ("urgency", 9.0, 9.0, True, "no choice of boxes that fits the time is more urgent"),
        ("urgency", 9.0, 10.0, False, "at most 10.0% more urgent"),
    ],
)
def test_a_proof_is_said_in_plain_words(
    measure: str, value: float, bound: float, optimal: bool, said: str
) -> None:
    assert said in describe_proof(Proof(measure, value, bound, optimal))


def test_minutes_are_said_in_hours_from_an_hour_on() -> None:
    assert [format_minutes(m) for m in (0.4, 59.4, 59.6, 125.0)] == [
        "under 1 min",
        "59 min",
        "1 h 0 min",
        "2 h 5 min",
    ]


def test_a_round_of_a_later_day_uses_that_day(demo: Contents) -> None:
    later = planned(demo, RoundRequest(on=ON + timedelta(days=9), which="due"))
    assert set(boxes_of(later)) != set(boxes_of(planned(demo, RoundRequest(on=ON, which="due"))))


def test_hours_of_boxes_are_read_one_by_one_or_in_a_list() -> None:
    texts = ("A1=08:00-10:00; a2 9:30-", "A 3=-10:15")
    windows = read_windows(texts, ("A1", "A2", "A 3"))
    assert [str(window) for window in windows] == ["A1=08:00-10:00", "A2=09:30-", "A 3=-10:15"]
    assert read_windows(("", " , "), ()) == ()


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("A1", "a box and its hours like M05=08:00-10:00, got 'A1', column window"),
        ("A1=-", "a box and its hours"),
        ("A1=8-10", "a time of day like 08:30, got '8'"),
        ("A1=08:00-09:00, A1=10:00-11:00", "the hours of A1 once"),
    ],
)
def test_hours_that_make_no_sense_are_refused(text: str, message: str) -> None:
    with pytest.raises(BadValue, match=message):
        read_windows((text,), ("A1",))


def test_hours_of_a_box_that_is_not_known_are_refused() -> None:
    with pytest.raises(NotKnown, match="the id of a box"):
        read_windows(("B9=08:00-10:00",), ("A1",))


def test_paths_and_zones_are_closed_on_their_days_alone(tmp_path: Path) -> None:
    """The far lane is closed until July; the bull is in his field, on the near one, in autumn."""
    west, east = at(1.5, -8), at(2.5, 8)
    field = shapely.box(west.x, west.y, east.x, east.y)
    path = make_trail(
        tmp_path / "small.gpkg",
        boxes={"A1": at(1), "A2": at(3), "A3": at(9)},
        paths=[
            {"name": "Lane", "geometry": line((0, 0), (5, 0))},
            {"name": "Far lane", "closed_when": "03-01/07-31", "geometry": line((5, 0), (9, 0))},
        ],
        zones=[
            {
                "name": "Bull field",
                "kind": "habitat",
                "closed_when": "10-01/11-30; 2026-12-24",
                "geometry": field,
            }
        ],
    )
    contents = contents_of(path)

    def seen(on: date) -> tuple[list[str], tuple[str, ...]]:
        found = planned(contents, RoundRequest(on, which="boxes", names=("A1", "A2", "A3")))
        return sorted(boxes_of(found)), found.round.warnings

    far_off = ("A3 is 328 m off the path.",)
    assert seen(ON) == (["A1", "A2", "A3"], far_off)
    assert seen(date(2026, 8, 1)) == (["A1", "A2", "A3"], ())
    assert seen(date(2026, 10, 15)) == (["A1"], ())
    assert seen(date(2026, 12, 24)) == (["A1"], ())
    assert seen(date(2026, 12, 25)) == (["A1", "A2", "A3"], ())
    june = planned(contents, RoundRequest(ON, which="boxes", names=("A3",)))
    assert june.path_notes == ("Far lane is not used: it is closed on 3 June.",)
    autumn = planned(contents, RoundRequest(date(2026, 10, 15), which="boxes", names=("A1", "A2")))
    assert "keep-out zone (Bull field)" in autumn.round.left_out[0].reason
