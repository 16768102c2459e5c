"""Boxes of the map in a real browser: found, pressed, listed, measured between."""

from __future__ import annotations

import re
from itertools import combinations
from urllib.parse import quote

import pytest
from playwright.sync_api import expect

from tests.maps.made import HOSTILE, made
from tests.maps.watched import Watched, accessible, some_box

ON_SCREEN = """box => {
    const map = window.trail_map, layer = Object.values(map._layers).find((l) => l.base);
    const point = map.latLngToContainerPoint(layer.place(layer.base.box.indexOf(box)));
    const own = map.getContainer().getBoundingClientRect();
    const top = document.elementFromPoint(own.left + point.x, own.top + point.y);
    return top.closest('.map') !== null;
}"""


WRITTEN = """() => {
    const layer = Object.values(window.trail_map._layers).find((l) => l.base);
    const brush = CanvasRenderingContext2D.prototype, own = brush.fillText, words = [];
    brush.fillText = function (text, x, y) {
        words.push([text, x, y, this.measureText(text).width]);
    };
    layer.draw();
    brush.fillText = own;
    return words;
}"""


def test_a_box_is_found_by_its_id_and_its_card_opens_and_closes(watched: Watched) -> None:
    page = watched.open()
    watched.unfold()
    page.locator("#find-box").fill(some_box().lower())
    page.keyboard.press("Enter")
    card = page.locator("#card")
    expect(card.locator("h2")).to_have_text(f"Box {some_box()}")
    expect(card).to_be_focused()
    expect(card).to_contain_text("on Wed 3 June 2026")
    expect(card).to_contain_text("Last visits")
    expect(card.get_by_role("link", name="Record a visit")).to_be_visible()
    accessible(page)
    page.keyboard.press("Escape")
    expect(card).to_be_hidden()


def test_a_box_that_is_not_there_is_reported(watched: Watched) -> None:
    page = watched.open()
    watched.unfold()
    page.locator("#find-box").fill("Z99")
    page.keyboard.press("Enter")
    expect(page.locator("#find-answer")).to_have_text("There is no box Z99.")
    accessible(page)


def test_a_press_on_a_symbol_opens_its_card(watched: Watched) -> None:
    page = watched.open()
    if page.viewport_size and page.viewport_size["width"] < 900:
        page.locator("#panel").evaluate("panel => { panel.open = false; }")
    at = page.evaluate(
        """box => {
            const own = document.querySelector('#map-view .map').getBoundingClientRect();
            const map = window.trail_map, layer = Object.values(map._layers).find((l) => l.base);
            const point = map.latLngToContainerPoint(layer.place(layer.base.box.indexOf(box)));
            return [own.left + point.x, own.top + point.y];
        }""",
        some_box(),
    )
    page.mouse.click(*at)
    card = page.locator("#card h2")
    expect(card).to_be_visible()
    if card.inner_text() == "Which box?":
        accessible(page)
        page.locator("#card .chooser button").first.click()
    expect(card).to_contain_text("Box ")


def test_the_list_sorts_pages_and_opens_cards_by_keyboard(watched: Watched) -> None:
    page = watched.open("/#view=list")
    accessible(page)
    rows = page.locator("#list-view tbody tr")
    assert rows.count() == len(made().boxes)
    sort = page.locator("#sort-occupancy")
    sort.press("Enter")
    expect(page.locator("#list-view th[aria-sort=ascending]")).to_contain_text("Box use")
    page.locator("#sort-occupancy").press("Enter")
    expect(page.locator("#list-view th[aria-sort=descending]")).to_contain_text("Box use")
    page.locator("#sort-box").press("Enter")
    page.locator(".open-box").nth(5).press("Enter")
    expect(page.locator("#card h2")).to_contain_text("Box ")
    page.keyboard.press("Escape")
    expect(page.locator("#card")).to_be_hidden()


@pytest.mark.parametrize("at", [0, 12, 30, 45, 58])
def test_the_chosen_box_is_not_hidden_by_its_card(watched: Watched, at: int) -> None:
    page = watched.open(f"/#view=map&box={quote(some_box(at), safe='')}")
    expect(page.locator("#card h2")).to_be_visible()
    assert page.evaluate(ON_SCREEN, some_box(at))


def test_ids_hazards_and_keep_out_are_written_without_overlap(watched: Watched) -> None:
    page = watched.open()
    words = page.evaluate(WRITTEN)
    texts = [text for text, *_ in words]
    assert "⚠" in texts
    if page.viewport_size == {"width": 1280, "height": 800}:
        assert "Keep out" in texts
        assert len([text for text in texts if re.fullmatch(r"[A-Z]\d\d", text)]) >= 50
    plain = [word for word in words if len(word[0]) > 1]
    for one, other in combinations(plain, 2):
        apart = one[1] >= other[1] + other[3] or other[1] >= one[1] + one[3]
        assert apart or abs(one[2] - other[2]) >= 16, (one, other)


def test_the_key_names_what_the_ground_holds(watched: Watched) -> None:
    page = watched.open()
    watched.unfold()
    page.locator("#key summary").press("Enter")
    words = page.locator("#key-list li").all_inner_texts()
    assert {"water", "keep out", "path", "path, closed", "bridge", "hazard"} <= set(words)
    accessible(page)


def test_after_a_card_closes_the_keyboard_is_where_one_can_see_it(watched: Watched) -> None:
    page = watched.open()
    watched.unfold()
    page.locator("#find-box").fill(some_box())
    page.keyboard.press("Enter")
    expect(page.locator("#card h2")).to_be_visible()
    page.keyboard.press("Escape")
    seen = (
        "() => document.activeElement !== document.body && document.activeElement.checkVisibility()"
    )
    assert page.evaluate(seen)


def test_a_card_that_does_not_come_says_so_and_can_be_requested_again(watched: Watched) -> None:
    page = watched.open()
    page.route("**/card/**", lambda route: route.abort())
    page.evaluate("box => { location.hash = new URLSearchParams({ box: box }); }", some_box())
    card = page.locator("#card")
    expect(card).to_contain_text("This card could not be loaded.")
    accessible(page)
    watched.forgive("net::ERR_FAILED")
    page.unroute("**/card/**")
    card.get_by_role("button", name="Try again").click()
    expect(card).to_contain_text("Last visits")


def test_hostile_text_stays_text(watched: Watched) -> None:
    hostile = made().boxes["box"][made().boxes["box"].str.startswith("A ")].iat[0]
    page = watched.open(f"/#view=list&box={hostile.replace('&', '%26')}")
    expect(page.locator("#card h2")).to_have_text(f"Box {hostile}")
    expect(page.locator("#card")).to_contain_text(HOSTILE)
    expect(page.locator("h1")).to_contain_text(HOSTILE)


def test_a_distance_is_measured_by_keyboard_and_by_pointer(watched: Watched) -> None:
    page = watched.open()
    button, words = page.get_by_role("button", name="Measure a distance"), page.locator(".measured")
    button.press("Enter")
    expect(words).to_contain_text("Press points on the map")
    page.keyboard.press("Enter")
    page.evaluate(
        """() => { const map = window.trail_map, at = map.getCenter();
            map.setView([at.lat + 0.01, at.lng], map.getZoom(), { animate: false }); }"""
    )
    page.keyboard.press("Enter")
    # A hundredth of a degree of latitude is 1.11 km; the map is moved by whole pixels.
    expect(words).to_contain_text(re.compile(r"^1\.1[0-2] km\."))
    page.locator(".map").click(position={"x": 200, "y": 200})
    expect(words).to_contain_text("in 2 legs")
    expect(page.locator("#card")).to_be_hidden()
    accessible(page)
    page.locator(".map").focus()
    page.keyboard.press("Backspace")
    expect(words).to_contain_text(re.compile(r"^1\.1[0-2] km\."))
    page.keyboard.press("Escape")
    expect(words).to_be_hidden()
    expect(button).to_have_attribute("aria-pressed", "false")


def test_the_own_position_is_shown_with_its_accuracy_where_the_browser_gives_it(
    watched: Watched,
) -> None:
    page = watched.open()
    button = page.get_by_role("button", name="Show where I am")
    page.context.grant_permissions([], origin=watched.address)
    button.click()
    expect(page.locator("#notice")).to_contain_text("Your position is not shared.")
    page.context.grant_permissions(["geolocation"], origin=watched.address)
    page.context.set_geolocation({"latitude": 42.6, "longitude": -77.9, "accuracy": 40})
    button.click()
    expect(page.locator(".here-mark")).to_be_visible()
    expect(page.locator("#notice")).to_have_text("")
    rings = "map => Object.values(window.trail_map._layers).filter((l) => l._mRadius === 40).length"
    assert page.evaluate(rings) == 1
    button.click()
    expect(page.locator(".here-mark")).to_have_count(0)
