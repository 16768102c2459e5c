"""The days of a box's nests on its own page, and what is due as the map's data."""

from __future__ import annotations

import datetime as dt
import html
import re
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from fastapi.testclient import TestClient
from playwright.sync_api import Browser, expect

from layers.maps.themes.due import WORDS, due_code
from layers.trail.store import Trail
from server.live.contents import Contents
from tests.maps.test_closed_days import TO_OPEN
from tests.maps.unpacking import unpack
from tests.server.conftest import ON
from tests.server.serving import Served

CLOSED, UNDER_WAY = "M04", "M03"
"""A box of the demo trail in its closed days, and one with eggs."""


def words(page: str) -> str:
    """What a page says, without its marks."""
    return re.sub(r"\s+", " ", html.unescape(re.sub("<[^>]+>", " ", page)))


def card(client: TestClient, box: str) -> dict[str, Any]:
    found: dict[str, Any] = client.get(f"/api/boxes/{box}").json()
    return found


def test_a_page_shows_every_day_and_what_comes_next_without_a_script(client: TestClient) -> None:
    page, nest = client.get(f"/boxes/{UNDER_WAY}").text, card(client, UNDER_WAY)["attempts"][-1]
    said = words(page)
    assert len(nest["days"]) == 4
    for day in nest["days"]:
        row = f"{day['event_label']} {day['best_text']} {day['interval_80']} {day['interval_95']}"
        assert row in said
    assert len(nest["forecast"]) >= 3
    for one in nest["forecast"]:
        assert one["text"] in said
    assert "What comes next, as known on Wed 3 June 2026" in said
    assert f"From memory in the guide: {', '.join(nest['memory'])}." in said


def test_a_page_draws_every_bar_and_the_day_without_styles_in_the_page(client: TestClient) -> None:
    page, attempts = client.get(f"/boxes/{UNDER_WAY}").text, card(client, UNDER_WAY)["attempts"]
    bars = [part for one in attempts for row in one["picture"]["rows"] for part in row["parts"]]
    assert page.count("<rect") == len(bars)
    assert page.count('class="shown"') == 1
    assert "style=" not in page


def test_a_box_in_its_closed_days_is_not_to_be_opened_by_its_page(client: TestClient) -> None:
    needed = card(client, CLOSED)
    assert needed["due"]["approach"] == "watch from a distance; do not open"
    page = words(client.get(f"/boxes/{CLOSED}").text)
    upto = page[: page.index(" Nests ")]
    assert needed["cautions"][0] in upto
    assert not TO_OPEN.search(upto)


def test_a_page_of_another_day_shows_what_was_known_then(client: TestClient) -> None:
    then = words(client.get(f"/boxes/{UNDER_WAY}?on=2026-05-30").text)
    assert "as known on Sat 30 May 2026" in then
    assert then != words(client.get(f"/boxes/{UNDER_WAY}").text)


def test_the_map_is_given_what_is_due_on_the_day_it_asks_for(
    client: TestClient, built: Path
) -> None:
    with Trail.open(built) as trail:
        contents = Contents.read(trail)
    for on in (ON, ON + dt.timedelta(days=4)):
        header, columns = unpack(client.get(f"/map/due?on={on}").content)
        of_box = {one.box: one for one in contents.due(on)}
        assert header["on"] == on.isoformat()
        told = [WORDS[code] for code in columns["due"]]  # type: ignore[index]
        assert told == [WORDS[due_code(of_box.get(box))] for box in contents.ground.ids]
    assert client.get("/map/due").content == client.get(f"/map/due?on={ON}").content
    assert client.get("/map/due?on=soon").status_code == 422


@pytest.mark.parametrize("width", [1280, 390])
def test_box_pages_are_accessible_at_both_widths(
    browser: Browser, demo_server: Served, width: int
) -> None:
    page = browser.new_page(viewport={"width": width, "height": 844})
    for box in (UNDER_WAY, CLOSED):
        page.goto(f"{demo_server.address}/boxes/{box}")
        expect(page.locator(".calendar rect.days-80").first).to_be_visible()
        assert Axe().run(page).violations_count == 0
        assert not page.evaluate("document.documentElement.scrollWidth > window.innerWidth")
        labels, svg = page.locator(".calendar-labels").first, page.locator(".calendar svg").first
        sizes = labels.bounding_box(), svg.bounding_box()
        assert sizes[0]
        assert sizes[1]
        assert sizes[0]["x"] + sizes[0]["width"] <= sizes[1]["x"]
        assert sizes[1]["width"] > 180
    page.close()
