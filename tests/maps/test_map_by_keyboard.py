"""Every function of the map with the keyboard alone."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Browser, expect

from tests.bench.first_card import our_answers
from tests.bench.first_card import served as answered
from tests.maps.watched import Watched, counts

# Of a group of radio buttons the keyboard comes to the one that is chosen.
CONTROLS = """() => {
    const all = "a[href], button, select, input, summary, [tabindex='0']";
    return [...document.querySelectorAll(all)]
        .filter((one) => one.checkVisibility() && !one.disabled && one.tabIndex >= 0
            && (one.type !== "radio" || one.checked))
        .filter((one) => !window.reached.has(one)).map((one) => one.outerHTML.slice(0, 120));
}"""
REACH = """() => {
    const here = document.activeElement, known = window.reached.has(here);
    window.reached.add(here);
    return known && here.matches("a.skip");
}"""
ZOOM, EAST = "window.trail_map.getZoom()", "window.trail_map.getCenter().lng"


@pytest.mark.parametrize("folded", [True, False])
def test_the_tab_key_comes_to_every_control(watched: Watched, folded: bool) -> None:
    page = watched.open()
    if not folded:
        watched.unfold()
    page.evaluate("() => { window.reached = new Set(); }")
    page.locator("a.skip").focus()
    # A date has a stop for each of its parts.
    for _ in range(80):
        if page.evaluate(REACH):
            break
        page.keyboard.press("Tab")
    assert page.evaluate(CONTROLS) == []


def test_the_map_is_moved_and_comes_back_by_keys(watched: Watched) -> None:
    page = watched.open()
    east, zoom = page.evaluate(EAST), page.evaluate(ZOOM)
    page.locator(".map").focus()
    page.keyboard.press("ArrowRight")
    page.wait_for_function(f"east => {EAST} > east", arg=east)
    page.keyboard.press("=")
    # A zoom that comes while another is drawn is left out.
    page.wait_for_function(f"zoom => {ZOOM} > zoom && !trail_map._animatingZoom", arg=zoom)
    expect(page).to_have_url(re.compile("at="))
    page.get_by_role("button", name="Zoom out").press("Enter")
    page.wait_for_function(f"zoom => {ZOOM} === zoom && !trail_map._animatingZoom", arg=zoom)
    page.get_by_role("button", name="Show the whole trail").press("Enter")
    expect(page).not_to_have_url(re.compile("at="))
    page.wait_for_function(
        f"([east, zoom]) => {EAST} === east && {ZOOM} === zoom", arg=[east, zoom]
    )


def test_what_is_shown_is_chosen_by_keys(watched: Watched) -> None:
    page = watched.open()
    panel, close = page.locator("#panel > summary"), page.locator("#panel-close")
    if panel.is_visible():
        panel.press("Enter")
    page.locator("#sections").press("ArrowDown")
    assert sum(counts(page).values()) == 15
    page.locator("input[name=view][value=map]").press("ArrowRight")
    expect(page.locator("#list-view caption")).to_contain_text("15 boxes")
    page.locator("input[name=view][value=list]").press("ArrowLeft")
    expect(page.locator(".map")).to_be_visible()
    if close.is_visible():
        close.press("Enter")
        expect(close).to_be_hidden()
        expect(panel).to_be_focused()


def test_days_and_seasons_are_chosen_by_keys(watched: Watched) -> None:
    page = watched.open()
    shown, play = page.locator("#shown-day"), page.locator("#play")
    page.locator("#day").press("ArrowDown")
    expect(shown).not_to_have_text("As of Wed 3 June 2026")
    page.locator("#compare > summary").press("Enter")
    page.locator("#years button").last.press("Enter")
    expect(shown).to_contain_text("2025")
    page.locator("#seasons").press("ArrowDown")
    expect(shown).to_contain_text("2026")
    for pressed in ("true", "false"):
        play.press("Enter")
        expect(play).to_have_attribute("aria-pressed", pressed)


def test_the_own_position_is_asked_for_by_keys(watched: Watched) -> None:
    page = watched.open()
    page.context.grant_permissions([], origin=watched.address)
    page.get_by_role("button", name="Show where I am").press("Enter")
    expect(page.locator("#notice")).to_contain_text("Your position is not shared.")


@pytest.mark.slow
def test_a_ring_of_many_boxes_is_opened_by_keys(browser: Browser) -> None:
    page = browser.new_page(viewport={"width": 390, "height": 844})
    with answered(our_answers(500)) as address:
        page.goto(f"{address}/map")
        ring = page.get_by_role("button", name=re.compile(r"^\d+ boxes: .*\. Show these\.$")).first
        expect(ring).to_be_attached(timeout=30_000)
        zoom = "window.boxround.map.getZoom()"
        before = page.evaluate(zoom)
        ring.press("Enter")
        page.wait_for_function(f"before => {zoom} > before", arg=before)
        expect(page.locator(".map")).to_be_focused()
        page.close()
