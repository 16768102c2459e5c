"""The week: due boxes shared out among days and walkers."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest
import vobject
from fastapi.testclient import TestClient

from layers.errors import BadValue
from layers.nesting.due import OPEN
from layers.walking.round.shifts import NO_SHIFT
from server.command import main
from server.terminal import opened
from server.week.view import FreeTime, WeekRequest, read_free, week_days, week_of
from tests.server.conftest import ON

WED, SAT = date(2026, 6, 3), date(2026, 6, 6)
FREE = ("Ann: Wed 150, Sat 120", "Ben: Sat 200")
QUERY = f"on={ON}&free={FREE[0]}&free={FREE[1]}"


def test_free_time_is_read_by_weekday_or_date() -> None:
    lines = "Ann: Wed 180, 2026-06-06 120\n\nBen: saturday 60"
    assert read_free([lines], on=WED) == (
        FreeTime("Ann", WED, 180.0),
        FreeTime("Ann", SAT, 120.0),
        FreeTime("Ben", SAT, 60.0),
    )
    assert week_days(["Wed, Sat", "2026-06-06"], on=WED) == (WED, SAT)


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("Ann", "a walker and free minutes like Ann: Wed 180"),
        ("Ann: Wed", "a day and minutes like Wed 180"),
        ("Ann: Wed 0", "more than 0 minutes"),
        ("Ann: 2026-07-01 60", "a day from 2026-06-03 to 2026-06-09"),
        ("Ann: Wed 60, Wed 30", "each day once for Ann"),
    ],
)
def test_free_time_that_cannot_be_read_is_refused_with_what_to_write(line: str, said: str) -> None:
    with pytest.raises(BadValue, match=said):
        read_free([line], on=WED)


def test_a_rain_day_is_used_only_where_a_day_of_the_week_fell_out() -> None:
    free = read_free(FREE, on=WED)
    kept = WeekRequest(WED, free, reserve=(SAT,))
    assert [one.on for one in kept.used] == [WED]
    rained = WeekRequest(WED, free, reserve=(SAT,), without=(WED,))
    assert [(one.walker, one.on) for one in rained.used] == [("Ann", SAT), ("Ben", SAT)]


def test_a_week_visits_each_due_box_once_on_a_day_on_which_it_is_due(client: TestClient) -> None:
    week = client.get(f"/api/week?{QUERY}").json()
    assert week["on"] == ON.isoformat()
    assert {walk["walker"] for walk in week["walks"]} == {"Ann", "Ben"}
    visited = [box for walk in week["walks"] for box in walk["boxes"]]
    missed = [one["box"] for one in week["missed"]]
    assert len(visited) == len(set(visited))
    assert sorted(visited + missed) == sorted({*visited, *missed})
    assert len(visited) + len(missed) == week["due"]
    assert all(one["reason"] for one in week["missed"])
    for walk in week["walks"]:
        assert walk["minutes"] <= walk["free_minutes"]
        due = {one["box"] for one in client.get(f"/api/due?on={walk['on']}").json()}
        assert set(walk["boxes"]) <= due
        again = client.get(f"/api/round?{walk['round']}").json()
        assert [stop["box"] for stop in again["stops"]] == walk["boxes"]
        assert again["minutes"] == pytest.approx(walk["minutes"], abs=0.01)


def test_a_box_that_is_closed_when_walkers_have_time_says_so(built: Path) -> None:
    with opened(built) as (_, contents):
        week = week_of(contents, WeekRequest(ON, read_free(["Ann: Thu 30"], on=ON)))
        then = {one.box: one for one in contents.due(date(2026, 6, 4))}
    late = [one for one in week.missed if one.reason.startswith(NO_SHIFT)]
    closed = [one for one in late if then[one.box].approach != OPEN]
    assert 0 < len(closed) < len(late)
    for one in late:
        text = f"; on 4 June: {then[one.box].approach_text}" if one in closed else ""
        assert one.reason == NO_SHIFT + text


def test_the_walks_are_events_of_a_calendar_without_places(client: TestClient) -> None:
    week = client.get(f"/api/week?{QUERY}").json()
    events = vobject.readOne(client.get(f"/week.ics?{QUERY}").text).contents["vevent"]
    assert len(events) == len(week["walks"])
    assert all("geo" not in event.contents for event in events)
    assert {event.dtstart.value.date().isoformat() for event in events} == {
        walk["on"] for walk in week["walks"]
    }


def test_breaks_are_in_the_minutes_the_page_and_the_events_of_a_week(client: TestClient) -> None:
    asked = f"{QUERY}&break_minutes=20&break_after=60"
    week = client.get(f"/api/week?{asked}").json()
    for walk in week["walks"]:
        assert walk["minutes"] <= walk["free_minutes"]
        again = client.get(f"/api/round?{walk['round']}").json()
        assert again["minutes"] == pytest.approx(walk["minutes"], abs=0.01)
        legs = [*again["stops"], again["walks"][0]["home"]]
        assert sum(leg["break_minutes"] for leg in legs) == 20.0 * (again["minutes"] // 80.0)
    assert "break of 20 min from 09:0" in client.get(f"/week?{asked}").text
    events = vobject.readOne(client.get(f"/week.ics?{asked}").text).contents["vevent"]
    assert all("Break of 20 min from " in event.description.value for event in events)


def test_the_page_asks_shows_and_refuses(client: TestClient) -> None:
    assert "Who has how many minutes when" in client.get("/week").text
    page = client.get(f"/week?{QUERY}&from=").text
    assert '<h2 id="walk-1">' in page
    assert "Sheet to print" in page
    bad = client.get("/week?free=Ann")
    assert bad.status_code == 422
    assert "No week could be planned." in bad.text


def test_the_command_prints_the_week_that_the_call_gives(
    built: Path, client: TestClient, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    target = tmp_path / "week.ics"
    words = ["week", str(built), "--on", ON.isoformat(), "--calendar", str(target)]
    words += [word for line in FREE for word in ("--free", line)]
    assert main([*words, "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == client.get(f"/api/week?{QUERY}").json()
    assert target.read_text().startswith("BEGIN:VCALENDAR")
    words = [word for word in words if word not in ("--calendar", str(target))]
    assert main(words) == 0
    assert "Ben" in capsys.readouterr().out
