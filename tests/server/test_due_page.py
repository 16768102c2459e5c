"""The page, the call and the calendar of what is due."""

from __future__ import annotations

import datetime as dt
import json
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import vobject
from axe_playwright_python.sync_playwright import Axe
from fastapi.testclient import TestClient
from playwright.sync_api import Browser, Page

from layers.nesting import attempt_columns as c
from layers.nesting.cautions import ON_A_ROUND
from layers.nesting.dating import date_attempts
from layers.nesting.due import OPEN
from layers.nesting.histories import read_histories
from layers.trail.coding import day_number
from layers.trail.store import Trail
from server.app import create_app
from server.command import main
from server.due.api import DueBox
from server.live.contents import Contents
from server.settings import ServerSettings
from tests.server.conftest import HOST, ON
from tests.server.serving import Served

WIDE, PHONE = {"width": 1280, "height": 800}, {"width": 390, "height": 844}
SEASON = [dt.date(2026, 4, 20) + dt.timedelta(days=step) for step in range(0, 84, 7)]


def words(page: str) -> str:
    """What a page says, without its marks."""
    return " ".join(re.sub(r"<[^>]+>", " ", page).split())


def contents_of(path: Path) -> Contents:
    with Trail.open(path) as trail:
        return Contents.read(trail)


def events(ical: bytes) -> dict[str, Any]:
    """Events by id, as another library than the one that wrote them reads them."""
    calendar = vobject.readOne(ical.decode())
    found = calendar.contents.get("vevent", [])
    assert len({event.uid.value for event in found}) == len(found)
    return {event.uid.value: event for event in found}


def test_the_page_counts_in_plain_words_and_lists_every_due_box_and_why(
    client: TestClient, built: Path
) -> None:
    page = client.get("/due").text
    listed = contents_of(built).due(ON)
    due = [one for one in listed if one.due]
    told = words(page)
    assert len(due) == 23
    assert f"{len(due)} of {len(listed)} boxes need a visit: 5 urgent, 13 due, 5 can wait." in told
    for one in due:
        assert f'href="/boxes/{one.box}"' in page
        assert f'href="/boxes/{one.box}/visit"' in page
        assert one.expected in told
        for reason in one.reasons:
            assert reason.text.replace("'", "&#39;") in told


def test_cautions_stand_beside_the_list_each_with_its_source(client: TestClient) -> None:
    told = words(client.get("/due").text)
    for caution in ON_A_ROUND:
        assert caution.replace("'", "&#39;") in told
    for topic in ("cold", "ladder", "bleach", "licensed banders", "local law"):
        assert topic in told


def test_the_day_stays_when_the_list_is_turned_to_sections(client: TestClient) -> None:
    page = client.get("/due?on=2026-05-20").text
    assert 'href="/due?on=2026-05-20&amp;by=section"' in page
    assert 'href="/round?set=due&amp;on=2026-05-20"' in page
    by_section = client.get("/due?on=2026-05-20&by=section").text
    heads = re.findall(r'<h2 id="group-\d+">(.*?) <small>', by_section)
    assert heads == sorted(heads)
    assert "Mill Wood" in heads


def test_boxes_that_must_not_be_opened_are_listed_though_no_visit_is_due(
    client: TestClient,
) -> None:
    page = client.get("/due").text
    left = page[page.index("Leave closed <small>") :]
    assert re.search(r"Do not open 2\d May to \d+ June", left)
    assert "The keeper has closed this box." in left
    assert 'href="/boxes/N07/visit"' not in left


def test_a_day_on_which_nothing_is_due_says_so(client: TestClient) -> None:
    with_nothing = words(client.get("/due?on=1990-01-01").text)
    assert "No box stands on this day." in with_nothing


def test_a_trail_without_boxes_has_a_page(tmp_path: Path) -> None:
    path = tmp_path / "empty.gpkg"
    made = ["new", str(path), "--name", "Alderbeck", "--timezone", "America/New_York"]
    assert main(made) == 0
    app = create_app(ServerSettings(trail=path, on=ON))
    with TestClient(app, base_url=HOST) as client:
        assert "No box stands on this day." in words(client.get("/due").text)
        assert client.get("/api/due").json() == []
        assert events(client.get("/due.ics").content) == {}


def test_a_long_list_comes_in_pages_that_together_hold_every_box_once(trail_path: Path) -> None:
    with Trail.open(trail_path) as trail:
        trail.add_rows("boxes", [{"box": f"X{number:03d}"} for number in range(250)])
    app = create_app(ServerSettings(trail=trail_path, on=ON))
    with TestClient(app, base_url=HOST) as client:
        due = {one["box"] for one in client.get("/api/due").json()}
        seen: list[str] = []
        for page in (1, 2, 3):
            told = client.get(f"/due?page={page}").text
            seen += re.findall(r'aria-label="Box (\w+)"', told)
            assert f"page {page} of 3" in told
        assert f"<b>{len(due)}</b> of 308" in told
    assert due <= set(seen)
    assert len(seen) == len(set(seen)) == 280


def test_the_call_gives_what_the_command_prints(
    client: TestClient, built: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    got = client.get("/api/due").json()
    assert [DueBox.model_validate(one) for one in got]
    assert main(["due", str(built), "--on", str(ON), "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == got
    everything = client.get("/api/due?everything=true").json()
    assert len(everything) > len(got)


def test_the_call_gives_some_at_a_time_and_leads_to_the_next(client: TestClient) -> None:
    whole = client.get("/api/due?on=2026-05-20&section=Mill+Wood&everything=true")
    assert "link" not in whole.headers
    urgent = sum(one["urgency"] == "urgent" for one in whole.json())
    address, seen = f"{whole.request.url}&limit=4", []
    while True:
        answer = client.get(address)
        seen += answer.json()
        assert answer.headers["x-total-count"] == str(len(whole.json()))
        assert answer.headers["x-urgent-count"] == str(urgent)
        if "next" not in answer.links:
            break
        assert len(answer.json()) == 4
        address = answer.links["next"]["url"]
    assert seen == whole.json()
    assert len(seen) > 8
    beyond = client.get("/api/due?offset=9999")
    assert (beyond.json(), "link" in beyond.headers) == ([], False)
    assert beyond.headers["x-total-count"] == str(len(client.get("/api/due").json()))


def test_the_call_gives_one_section_and_knows_no_other(client: TestClient) -> None:
    some = client.get("/api/due", params={"section": "Mill Wood"}).json()
    assert {one["section"] for one in some} == {"Mill Wood"}
    assert client.get("/api/due", params={"section": "Nowhere"}).status_code == 404


def test_the_calendar_is_read_by_another_library_and_may_be_cached(client: TestClient) -> None:
    answer = client.get("/due.ics")
    assert answer.headers["content-type"] == "text/calendar; charset=utf-8"
    found = events(answer.content)
    assert len(found) > 20
    again = client.get("/due.ics", headers={"If-None-Match": answer.headers["etag"]})
    assert again.status_code == 304


def test_the_calendar_of_a_box_or_a_section_holds_no_other(client: TestClient) -> None:
    every = events(client.get("/due.ics").content)
    mine = events(client.get("/due.ics?box=M05").content)
    assert mine
    assert all("Box M05:" in event.summary.value for event in mine.values())
    wood = events(client.get("/due.ics", params={"section": "Mill Wood"}).content)
    assert set(mine) < set(wood) < set(every)
    assert events(client.get("/due.ics?box=M05&section=Pond+Meadow").content) == {}
    assert client.get("/due.ics?box=Z9").status_code == 404


def test_a_calendar_read_again_after_a_visit_and_a_new_start_doubles_nothing(
    trail_path: Path,
) -> None:
    held: dict[str, Any] = {}
    sizes = []
    for visit in (None, {"eggs": "0", "young": "0", "signs": "nest torn"}):
        with TestClient(
            create_app(ServerSettings(trail=trail_path, on=ON)), base_url=HOST
        ) as client:
            if visit is not None:
                form = {"box": "M05", "date": "2026-06-03", "time": "21:00", "nest": "shaped cup"}
                assert client.post("/api/visits", json=form | visit).status_code == 201
            read = events(client.get("/due.ics").content)
        # As a program does: a later SEQUENCE takes the place of what has the same id.
        for uid, event in read.items():
            if uid in held:
                assert int(event.sequence.value) >= int(held[uid].sequence.value)
        held |= read
        sizes.append(len({uid for uid in held if "M05" in held[uid].summary.value}))
        mine = [event for event in held.values() if "Box M05:" in event.summary.value]
    # Its closed and check days were told; called off, they and the other two kinds are four.
    assert sizes[1] <= 4
    called_off = [event for event in mine if "status" in event.contents]
    assert [event.status.value for event in called_off] == ["CANCELLED"] * 4


def test_no_face_advises_to_open_a_box_in_its_closed_days(client: TestClient) -> None:
    contents: Contents = client.app.state.live.contents()  # type: ignore[attr-defined]
    met = 0
    for day in SEASON:
        shut = closed_boxes(contents, day)
        met += len(shut)
        told = client.get(f"/api/due?everything=true&on={day}").json()
        for one in told:
            if one["box"] in shut:
                assert one["approach"] != OPEN
                assert not any(reason["needs_open"] for reason in one["reasons"])
        page = client.get(f"/due?on={day}").text
        for row in re.findall(r"<tr>\n<td.*?</tr>", page, re.DOTALL):
            (box,) = re.findall(r'aria-label="Box (\w+)"', row)
            assert box not in shut or "<b>open</b>" not in row
    assert met > 40


def test_form_and_page_of_a_box_advise_to_look_from_a_distance_in_its_closed_days(
    client: TestClient,
) -> None:
    contents: Contents = client.app.state.live.contents()  # type: ignore[attr-defined]
    for box in closed_boxes(contents, ON):
        assert (
            "<summary>Watch from a distance; do not open</summary>"
            in client.get(f"/boxes/{box}/visit").text
        )
        assert "Watch from a distance; do not open. Do not open" in words(
            client.get(f"/boxes/{box}").text
        )


def closed_boxes(contents: Contents, day: dt.date) -> set[str]:
    """Boxes with a nest under way whose closed days hold the day, by the visits up to it."""
    visits = contents.histories.visits.take(contents.histories.visits.day <= day_number(day))
    histories = read_histories(visits, contents.guide, season_starts="01-01")
    dates = date_attempts(histories)
    found = set()
    for attempt in np.flatnonzero(histories.fates(day) == c.ONGOING).tolist():
        closed = dates.of(attempt).closed
        if closed is not None and closed[0] <= day <= closed[1]:
            found.add(histories.visits.boxes[histories.rows[attempt, c.BOX]])
    return found


@pytest.mark.parametrize("size", [WIDE, PHONE], ids=["wide", "phone"])
def test_the_page_is_accessible_and_fits_over_the_season(
    browser: Browser, demo_server: Served, size: dict[str, int]
) -> None:
    page = browser.new_page(viewport=size)  # type: ignore[arg-type]
    for day in SEASON[::3]:
        for address in (f"/due?on={day}", f"/due?on={day}&by=section"):
            page.goto(demo_server.address + address)
            results = Axe().run(page)
            assert results.violations_count == 0, results.generate_report()
            assert not page.evaluate("document.documentElement.scrollWidth > window.innerWidth")
    _opens_what_it_links(page)
    page.close()


def _opens_what_it_links(page: Page) -> None:
    page.get_by_role("link", name="Record a visit to box").first.click()
    assert page.url.endswith("/visit")
    assert page.locator("summary").first.inner_text().startswith(("Before you", "Watch from"))


def test_the_page_works_without_scripts_and_folds_its_cautions_on_a_phone_with_them(
    browser: Browser, demo_server: Served
) -> None:
    for scripts in (False, True):
        context = browser.new_context(viewport=PHONE, java_script_enabled=scripts)  # type: ignore[arg-type]
        page = context.new_page()
        page.goto(f"{demo_server.address}/due")
        caution = page.get_by_text("Set a ladder on firm ground")
        assert caution.is_visible() is not scripts
        page.get_by_role("link", name="By section").click()
        assert page.get_by_role("heading", name="Mill Wood").is_visible()
        context.close()


def test_on_paper_there_is_a_box_to_tick_and_room_to_write(
    browser: Browser, demo_server: Served
) -> None:
    page = browser.new_page(viewport={"width": 720, "height": 1000})
    page.goto(f"{demo_server.address}/due")
    assert not page.locator(".tick").first.is_visible()
    page.emulate_media(media="print")
    assert page.locator(".tick").first.is_visible()
    room = page.locator("td.room").first.bounding_box()
    assert room is not None
    assert room["width"] > 100
    assert not page.get_by_role("link", name="Plan a round of these").is_visible()
    page.close()
