"""The round in a real browser: map, form, and on paper."""

from __future__ import annotations

import re
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path

import httpx
import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, ViewportSize, expect
from pypdf import PdfReader

from tests.server.conftest import Process

WIDE, PHONE = ViewportSize(width=1280, height=800), ViewportSize(width=390, height=844)
DAY = ("--on", "2026-06-03")


@pytest.fixture(scope="module")
def server(built: Path) -> Iterator[Process]:
    process = Process(built, *DAY)
    yield process
    process.stop()


@pytest.fixture
def phone(browser: Browser, server: Process) -> Iterator[Page]:
    context = browser.new_context(viewport=PHONE, has_touch=True)
    yield context.new_page()
    context.close()


def no_fault(page: Page) -> None:
    assert [v["id"] for v in Axe().run(page).response["violations"]] == []
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


@pytest.mark.parametrize("size", [WIDE, PHONE], ids=["wide", "phone"])
@pytest.mark.parametrize("query", ["", "?set=due", "?set=all&walkers=3", "?set=boxes&boxes=Q1"])
def test_every_state_of_the_page_is_accessible(
    browser: Browser, server: Process, query: str, size: ViewportSize
) -> None:
    page = browser.new_page(viewport=size)
    wrong: list[str] = []
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.goto(f"{server.address}/round{query}")
    if "set=due" in query:
        expect(page.locator(".stop-mark").first).to_be_visible()
    no_fault(page)
    assert wrong == []
    page.close()


def test_the_map_has_every_stop_and_shows_the_direction(browser: Browser, server: Process) -> None:
    told = httpx.get(f"{server.address}/api/round?set=due").json()
    due = httpx.get(f"{server.address}/api/due").json()
    assert {stop["box"] for stop in told["stops"]} == {box["box"] for box in due}
    stops = len(due)
    assert stops > 15
    page = browser.new_page(viewport=WIDE)
    page.goto(f"{server.address}/round?set=due")
    expect(page.locator(".stop-mark")).to_have_count(stops)
    assert page.locator(".way-arrow").count() > 10
    marks = page.locator(".stop-mark").all_inner_texts()
    assert sorted(int(mark) for mark in marks) == list(range(1, stops + 1))
    page.locator(".stop-mark", has_text=re.compile("^2$")).click()
    expect(page.locator("#stop-1-2 a").first).to_be_focused()
    page.close()


def test_the_form_plans_a_round_without_javascript(browser: Browser, server: Process) -> None:
    context = browser.new_context(viewport=PHONE, java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{server.address}/round")
    expect(page.get_by_label("Boxes: their ids")).to_be_hidden()
    expect(page.get_by_role("group", name="Sections")).to_be_hidden()
    page.locator('label:has(input[value="section"])').click()
    page.locator('label:has(input[value="Pond Meadow"])').click()
    page.get_by_label("Start at").select_option("Alder Barn")
    page.get_by_role("button", name="Plan the round").click()
    expect(page.locator(".legs > li").first).to_contain_text("off the path")
    expect(page.locator(".said").first).to_contain_text("from Alder Barn to Alder Barn")
    expect(page.get_by_text("The print sheet has a map without it.")).to_be_visible()
    assert page.locator("svg.profile").is_visible()
    context.close()


def test_all_targets_on_the_phone_are_large_enough(phone: Page, server: Process) -> None:
    phone.goto(f"{server.address}/round?set=due")
    expect(phone.locator(".stop-mark").first).to_be_visible()
    for target in phone.locator("main button:visible, .leaflet-bar a, .carry a, h3 a").all():
        box = target.bounding_box()
        assert box is not None
        assert box["height"] >= 44, target.inner_text()


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_sheet_of_twenty_five_boxes_prints_on_two_pages(
    browser: Browser, server: Process, paper: str
) -> None:
    page = browser.new_page()
    boxes = [f"{letter}{number:02d}" for letter in "MNO" for number in range(1, 12)]
    boxes = [box for box in boxes if box not in ("N07",)][:25]
    page.goto(f"{server.address}/round/sheet?on=2026-06-03")  # all that is due, with cautions
    assert len(PdfReader(BytesIO(page.pdf(format=paper))).pages) <= 2
    page.goto(f"{server.address}/round/sheet?set=boxes&boxes={','.join(boxes)}")
    printed = PdfReader(BytesIO(page.pdf(format=paper)))
    page.close()
    assert len(printed.pages) <= 2
    text = " ".join(" ".join(part.extract_text() for part in printed.pages).split())
    assert all(box in text for box in boxes)
    # The table begins below the map; its head is on every page.
    assert text.count("What I found") == len(printed.pages)
    assert "In an emergency call" in text
    assert "Back to the round" not in text


def test_the_sheet_is_accessible(browser: Browser, server: Process) -> None:
    for size in (WIDE, PHONE):
        page = browser.new_page(viewport=size)
        page.goto(f"{server.address}/round/sheet?set=due")
        no_fault(page)
        page.close()
