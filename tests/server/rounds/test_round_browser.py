"""The round in a real browser: map, form, the walk itself, without a signal, and on paper."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from io import BytesIO
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Geolocation, Page, ViewportSize, expect
from pypdf import PdfReader

from tests.server.conftest import Process

WIDE, PHONE = ViewportSize(width=1280, height=800), ViewportSize(width=390, height=844)
DAY = ("--on", "2026-06-03")
CAR_PARK = Geolocation(latitude=42.595733, longitude=-77.8997076)
KEPT = "this page opens again without a signal"


@pytest.fixture(scope="module")
def server(built: Path) -> Iterator[Process]:
    process = Process(built, *DAY)
    yield process
    process.stop()


@pytest.fixture
def phone(browser: Browser, server: Process) -> Iterator[Page]:
    """A phone at the car park that was asked for its position and agreed."""
    context = browser.new_context(
        viewport=PHONE, geolocation=CAR_PARK, permissions=["geolocation"], has_touch=True
    )
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
        expect(page.locator("#walking")).to_be_visible()
    no_fault(page)
    assert wrong == []
    page.close()


def test_the_map_has_every_stop_and_shows_the_direction(browser: Browser, server: Process) -> None:
    page = browser.new_page(viewport=WIDE)
    page.goto(f"{server.address}/round?set=due")
    expect(page.locator(".stop-mark")).to_have_count(23)
    assert page.locator(".way-arrow").count() > 10
    marks = page.locator(".stop-mark").all_inner_texts()
    assert sorted(int(mark) for mark in marks) == list(range(1, 24))
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
    expect(phone.locator("#walking")).to_be_visible()
    for target in phone.locator("main button:visible, .leaflet-bar a, .carry a, h3 a").all():
        box = target.bounding_box()
        assert box is not None
        assert box["height"] >= 44, target.inner_text()


def test_the_position_is_asked_for_by_a_button_and_leads_to_the_next_stop(
    phone: Page, server: Process
) -> None:
    phone.goto(f"{server.address}/round?set=due")
    walking = phone.locator("#walking")
    expect(walking.locator(".far")).to_have_text(re.compile(r"^\d+ m \S+, \d+ min$"))
    expect(phone.locator(".here-mark")).to_have_count(0)
    walking.get_by_role("button", name="Follow my position").click()
    expect(walking.locator(".far")).to_have_text(re.compile(r"^\d+ m \S+ of here$"))
    expect(phone.locator(".here-mark")).to_have_count(1)
    at_first = walking.locator(".far").inner_text()
    phone.context.set_geolocation(Geolocation(latitude=42.5975, longitude=-77.8985))
    expect(walking.locator(".far")).not_to_have_text(at_first)
    walking.get_by_role("button", name="Stop following").click()
    expect(walking.locator(".far")).to_have_text(re.compile(r"min$"))


def test_a_position_that_is_not_shared_is_no_hindrance(browser: Browser, server: Process) -> None:
    context = browser.new_context(viewport=PHONE)
    page = context.new_page()
    page.goto(f"{server.address}/round?set=due")
    page.get_by_role("button", name="Follow my position").click()
    expect(page.locator("#walking .told").first).to_contain_text("The round works without it.")
    page.locator("#walking").get_by_role("button", name="Done").click()
    expect(page.locator("#walking .count")).to_have_text("1 of 23 stops done.")
    context.close()


def test_the_next_stop_links_to_the_form_of_its_box(phone: Page, server: Process) -> None:
    phone.goto(f"{server.address}/round?set=boxes&boxes=P01")
    phone.get_by_role("link", name="Record P01").click()
    expect(phone.get_by_role("heading", name="Visit to box P01")).to_be_visible()


def test_what_is_done_survives_a_reload_without_a_signal(
    browser: Browser, built: Path, start: Callable[..., Process]
) -> None:
    server = start(built, *DAY)
    context = browser.new_context(viewport=PHONE)
    page = context.new_page()
    page.goto(f"{server.address}/round?set=boxes&boxes=P01,P02,P04")
    expect(page.locator("#walking .told").last).to_contain_text(KEPT)
    first = page.locator("#next-heading").inner_text()
    page.locator("#walking").get_by_role("button", name="Done").click()
    second = page.locator("#next-heading").inner_text()
    assert second != first
    server.kill()
    page.reload()
    expect(page.locator("#next-heading")).to_have_text(second)
    expect(page.locator(".stop-mark.done")).to_have_count(1)
    expect(page.locator("#stop-1-1 .tick")).to_have_attribute("aria-pressed", "true")
    page.locator("#stop-1-1 .tick").click()
    expect(page.locator("#next-heading")).to_have_text(first)
    context.close()


def test_only_the_last_round_is_kept_on_the_device(browser: Browser, server: Process) -> None:
    context = browser.new_context(viewport=PHONE)
    page = context.new_page()
    for box in ("P01", "P02"):
        page.goto(f"{server.address}/round?set=boxes&boxes={box}")
        expect(page.locator("#walking .told").last).to_contain_text(KEPT)
    kept = page.evaluate(
        "caches.open('boxround round').then(r => r.keys()).then(k => k.map(q => q.url))"
    )
    assert any("boxes=P02" in address for address in kept)
    assert not any("boxes=P01" in address for address in kept)
    context.close()


def test_a_walk_ends_with_the_way_home(phone: Page, server: Process) -> None:
    phone.goto(f"{server.address}/round?set=boxes&boxes=P01,P02")
    done = phone.locator("#walking").get_by_role("button", name="Done")
    done.click()
    done.click()
    expect(phone.locator("#next-heading")).to_have_text("All boxes done. Back to Car park")
    expect(done).to_be_hidden()


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_sheet_of_twenty_boxes_prints_on_two_pages(
    browser: Browser, server: Process, paper: str
) -> None:
    page = browser.new_page()
    boxes = [f"{letter}{number:02d}" for letter in "MN" for number in range(1, 12)]
    boxes = [box for box in boxes if box not in ("N07",)][:20]
    page.goto(f"{server.address}/round/sheet?set=boxes&boxes={','.join(boxes)}")
    printed = PdfReader(BytesIO(page.pdf(format=paper)))
    page.close()
    assert len(printed.pages) <= 2
    text = " ".join(" ".join(part.extract_text() for part in printed.pages).split())
    assert all(box in text for box in boxes)
    assert text.count("What I found") == len(printed.pages)
    assert "In an emergency call" in text
    assert "Back to the round" not in text


def test_the_sheet_is_accessible(browser: Browser, server: Process) -> None:
    for size in (WIDE, PHONE):
        page = browser.new_page(viewport=size)
        page.goto(f"{server.address}/round/sheet?set=due")
        no_fault(page)
        page.close()
