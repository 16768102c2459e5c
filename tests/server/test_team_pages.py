"""What holds for every page of the team: its links, its size on a phone, and what it keeps."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from layers.trail.store import Trail
from server.command import main
from server.web.authentication.cookies import cookie_name
from tests.server.conftest import Serve
from tests.server.serving import Served
from tests.server.team import make_team

PHONE, WIDE = {"width": 390, "height": 844}, {"width": 1280, "height": 800}
PAGES = ("/list", "/due", "/round", "/field", "/season", "/winter", "/people", "/help")

# WCAG 2.2, 2.5.5; links within a sentence are left out there too.
FINGER_PX = 44
PRESSED = """() => [...document.querySelectorAll("a, button, select, summary, textarea, input")]
    .filter(each => each.checkVisibility() && !each.closest(".skip, .unseen, .choices, p, dd"))
    .map(each => [each.textContent.trim() || each.name, each.getBoundingClientRect().height])
    .filter(([, height]) => height > 0)"""


@pytest.fixture
def phone(browser: Browser) -> Iterator[Page]:
    page = browser.new_page(viewport=PHONE)  # type: ignore[arg-type]
    yield page
    page.close()


def links(page: Page, name: str) -> set[str]:
    """Where the visible links of one navigation lead."""
    found = page.get_by_role("navigation", name=name, exact=True).get_by_role("link")
    return {str(each.get_attribute("href")) for each in found.all() if each.is_visible()}


def is_too_wide(page: Page) -> bool:
    return bool(page.evaluate("document.documentElement.scrollWidth > window.innerWidth"))


def test_every_page_is_in_the_head_of_a_wide_screen(browser: Browser, demo_server: Served) -> None:
    page = browser.new_page(viewport=WIDE)  # type: ignore[arg-type]
    page.goto(f"{demo_server.address}/")
    assert links(page, "Pages") == {*PAGES}
    page.goto(f"{demo_server.address}/list")
    assert links(page, "Pages") == {"/", *PAGES}
    page.close()


def test_a_phone_has_one_line_of_links_and_every_page_one_press_further(
    phone: Page, demo_server: Served
) -> None:
    phone.goto(f"{demo_server.address}/list")
    head = [each for each in phone.locator(".top nav a:not(.home)").all() if each.is_visible()]
    assert len({each.evaluate("a => a.offsetTop") for each in head}) == 1
    phone.get_by_role("link", name="More").click()
    every = links(phone, "All pages")
    assert every == {"/", "/week", "/site", "/open/", "/import", "/ogc?f=html", *PAGES}
    assert Axe().run(phone).violations_count == 0
    for address in every:
        answer = phone.goto(demo_server.address + address)
        assert answer is not None
        assert answer.ok, address


def test_on_a_phone_what_is_pressed_is_as_large_as_a_finger(
    phone: Page, demo_server: Served
) -> None:
    for address in (*PAGES, "/boxes/M04", "/boxes/M04/visit", "/boxes/none", "/round?set=due"):
        phone.goto(demo_server.address + address)
        pressed = phone.evaluate(PRESSED)
        assert pressed
        assert [each for each in pressed if each[1] < FINGER_PX] == [], address
        assert not is_too_wide(phone), address


def test_a_box_to_be_left_closed_says_so_above_what_records_a_visit(
    phone: Page, demo_server: Served
) -> None:
    phone.goto(f"{demo_server.address}/boxes/M04")
    said = phone.get_by_text("Watch from a distance; do not open. Do not open").first.bounding_box()
    pressed = phone.get_by_role("link", name="Record a visit").bounding_box()
    assert said is not None
    assert pressed is not None
    assert said["y"] + said["height"] < pressed["y"] < PHONE["height"]


@pytest.mark.parametrize("boxes", [0, 1])
def test_long_names_fit_a_phone_also_on_a_trail_with_one_box_or_none(
    phone: Page, serve: Serve, tmp_path: Path, boxes: int
) -> None:
    path, long = tmp_path / "small.gpkg", "Rhododendron" * 7
    assert main(["new", str(path), "--name", long, "--timezone", "America/New_York"]) == 0
    box = {"box": "Q" * 40, "name": long, "section": long}
    with Trail.open(path) as trail:
        trail.add_rows("boxes", [box] * boxes)
    small = serve(path)
    own = f"/boxes/{box['box']}"
    for address in (*PAGES, *(own, f"{own}/visit") * boxes):
        phone.goto(small.address + address)
        assert phone.locator("h1").is_visible()
        assert not is_too_wide(phone), address


HELD = """() => new Promise(done => {
    const opened = indexedDB.open("boxround field");
    opened.onsuccess = () => {
        const read = opened.result.transaction(["day", "outbox"]), found = [];
        for (const name of ["day", "outbox"]) {
            read.objectStore(name).count().onsuccess = event => found.push(event.target.result);
        }
        read.oncomplete = () => { opened.result.close(); done(found); };
    };
})"""
"""How many rows of the day, and visits, the field page holds on the device."""


def test_signing_out_takes_the_stored_walk_off_the_device_and_leaves_unsent_visits(
    browser: Browser, serve: Serve, trail_path: Path
) -> None:
    mark, tokens = make_team(trail_path)
    server = serve(trail_path)
    context = browser.new_context(viewport=PHONE)  # type: ignore[arg-type]
    name = cookie_name(mark, secure=False)
    context.add_cookies([{"name": name, "value": tokens["Robin"], "url": server.address}])
    page = context.new_page()
    page.goto(f"{server.address}/field?set=boxes&boxes=P01,P02")
    expect(page.locator("#notes")).to_contain_text("Opens without a signal")
    page.locator(".go").click()
    page.get_by_role("button", name="Empty").click()
    page.get_by_role("button", name="Save").click()
    expect(page.locator("#toast")).to_contain_text("Saved P01")
    (kept,) = page.evaluate("caches.keys()")
    assert kept.startswith("boxround field ")
    days, waiting = page.evaluate(HELD)
    assert (days > 0, waiting) == (True, 1)
    context.clear_cookies()
    page.goto(f"{server.address}/list")
    expect(page.get_by_role("heading", name="You are signed out")).to_be_visible()
    page.wait_for_load_state("networkidle")
    assert page.evaluate("caches.keys()") == []
    assert page.evaluate(HELD) == [0, 1]
    context.close()
