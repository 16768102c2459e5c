"""The map on small screens, at night, on paper and as one file, in a real browser."""

from __future__ import annotations

from pathlib import Path
from urllib.parse import quote

import pytest
from playwright.sync_api import Browser, expect

from tests.maps.made import made, self_contained
from tests.maps.watched import Watched, accessible, some_box


def test_paper_holds_the_map_its_legend_its_key_and_the_list(watched: Watched) -> None:
    page = watched.open()
    before = page.locator("#panel").evaluate("panel => panel.open")
    page.evaluate("() => window.dispatchEvent(new Event('beforeprint'))")
    page.emulate_media(media="print")
    for part in ("#legend", "#key-list", ".map", "#list-view table"):
        expect(page.locator(part)).to_be_visible()
    for part in ("#days", "#find", ".leaflet-control-zoom"):
        expect(page.locator(part)).to_be_hidden()
    assert page.locator("#list-view tbody tr").count() == len(made().boxes)
    assert page.locator("#list-view table").evaluate("t => getComputedStyle(t).display") == "table"
    page.emulate_media(media="screen")
    page.evaluate("() => window.dispatchEvent(new Event('afterprint'))")
    expect(page.locator("#list-view")).to_be_hidden()
    assert page.locator("#panel").evaluate("panel => panel.open") == before


def test_the_map_keeps_to_its_room_when_the_panel_is_folded(watched: Watched) -> None:
    page = watched.open()
    watched.unfold()
    page.locator("input[name=theme][value=fate]").check()
    page.locator("#panel").evaluate("panel => { panel.open = false; }")
    page.wait_for_timeout(200)
    fits = page.evaluate(
        """() => {
            const map = window.trail_map, size = map.getSize(), room = map.getContainer();
            const layer = Object.values(map._layers).find((l) => l.base);
            return size.x === room.clientWidth && size.y === room.clientHeight
                && layer.canvas.clientHeight === size.y && map.getBounds().contains(layer.bounds());
        }"""
    )
    assert fits
    assert "at=" not in page.url


def test_a_phone_on_its_side_keeps_room_for_the_map(watched: Watched) -> None:
    page = watched.open()
    page.set_viewport_size({"width": 844, "height": 390})
    for theme in ("occupancy", "due"):
        page.evaluate("theme => { location.hash = 'theme=' + theme; }", theme)
        page.wait_for_timeout(200)
        room = page.locator(".map").bounding_box()
        assert room is not None
        assert room["height"] > 390 / 3
    accessible(page)


@pytest.mark.parametrize(("width", "height"), [(360, 640), (844, 390)])
def test_what_is_compared_leaves_the_map_and_is_reached_on_a_small_screen(
    watched: Watched, width: int, height: int
) -> None:
    page = watched.open()
    page.set_viewport_size({"width": width, "height": height})
    page.locator("#compare > summary").click()
    last = page.locator("#years button").last
    last.scroll_into_view_if_needed()
    expect(last).to_be_in_viewport(ratio=1)
    room = page.locator(".map").bounding_box()
    assert room is not None and room["height"] >= height / 5


def test_what_is_pressed_is_large_enough_for_a_thumb_on_a_phone(watched: Watched) -> None:
    page = watched.open(f"/#box={quote(some_box(), safe='')}")
    expect(page.locator("#card h2")).to_be_visible()
    watched.unfold()
    narrow = page.viewport_size is not None and page.viewport_size["width"] < 900
    # Pixels: W3C, Web Content Accessibility Guidelines 2.2, success criteria 2.5.5 and 2.5.8.
    least = 44 if narrow else 24
    for part in ("button", "select", "summary", "input[type=range]", ".leaflet-bar a", "nav a"):
        sizes = [found.bounding_box() for found in page.locator(part).all()]
        assert any(sizes), part
        assert [s for s in sizes if s and min(s["height"], s["width"]) < least] == [], part


def test_the_whole_map_in_one_file_opens_from_disk(browser: Browser, tmp_path: Path) -> None:
    file = tmp_path / "map.html"
    file.write_text(self_contained(), encoding="utf-8")
    context = browser.new_context(offline=True, viewport={"width": 1280, "height": 800})
    seen = Watched(context.new_page(), file.as_uri())
    page = seen.open("#theme=fate")
    for at in (0, 55):
        page.locator("#find-box").fill(some_box(at))
        page.keyboard.press("Enter")
        expect(page.locator("#card h2")).to_have_text(f"Box {some_box(at)}")
    page.locator("#seasons").select_option("2025")
    expect(page.locator("#shown-day")).to_contain_text("2025")
    assert seen.complaints == []
    assert all(url.startswith(("file:", "data:", "blob:")) for url in seen.requests)
    context.close()


def test_on_paper_the_whole_trail_fits(watched: Watched) -> None:
    page = watched.open()
    page.emulate_media(media="print")
    page.wait_for_timeout(300)
    outside = page.evaluate(
        """() => {
            const map = window.trail_map, size = map.getSize();
            const layer = Object.values(map._layers).find((l) => l.base);
            return [...layer.base.box].filter((_, i) => {
                const place = layer.place(i), at = place && map.latLngToContainerPoint(place);
                return at && !(at.x >= 0 && at.y >= 0 && at.x <= size.x && at.y <= size.y);
            });
        }"""
    )
    assert outside == []
    expect(page.locator("#legend li").first).to_be_visible()
    expect(page.locator("#days")).to_be_hidden()


def test_on_a_phone_what_is_shown_is_a_drawer_that_leaves_the_map_in_place(
    watched: Watched,
) -> None:
    page = watched.open()
    if page.viewport_size == {"width": 1280, "height": 800}:
        legend, room = (page.locator(one).bounding_box() for one in ("#legend", ".map"))
        assert legend and room and legend["x"] + legend["width"] <= room["x"]
        return
    before = page.locator(".map").bounding_box()
    page.locator("#panel > summary").click()
    drawer = page.locator(".panel-inside").bounding_box()
    assert page.locator(".map").bounding_box() == before
    assert drawer and drawer["height"] <= 0.37 * 844 and drawer["y"] + drawer["height"] == 844
    expect(page.locator("#legend li").nth(2)).to_be_in_viewport()
    # It covers the controls of the day: its close stays in sight however far it is scrolled.
    page.locator(".panel-inside").evaluate("inside => inside.scrollTo(0, inside.scrollHeight)")
    expect(page.locator("#panel-close")).to_be_in_viewport(ratio=1)
    watched.fold()
    expect(page.locator("#panel > summary")).to_be_focused()
    page.locator("#day-on").click()
    expect(page.locator("#shown-day")).to_have_text("As of Thu 4 June 2026")


def test_at_night_the_page_is_dark_and_paper_stays_white(watched: Watched) -> None:
    page = watched.open()
    ink = "() => getComputedStyle(document.body).color"
    by_day = page.evaluate(ink)
    page.emulate_media(color_scheme="dark")
    assert page.evaluate(ink) != by_day
    watched.unfold()
    accessible(page)
    dark = """() => {
        const pen = document.querySelector('#legend canvas').getContext('2d');
        const { data } = pen.getImageData(0, 0, 52, 52);
        return data.some((part, at) => at % 4 === 0 && data[at + 3] === 255 && part > 240
            && data[at + 1] > 240 && data[at + 2] > 230);
    }"""
    assert page.evaluate(dark)  # the rim of the first symbol is light
    page.emulate_media(media="print", color_scheme="dark")
    page.wait_for_timeout(300)
    assert page.evaluate(ink) == by_day
    assert not page.evaluate(dark)
