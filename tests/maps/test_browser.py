"""The map in a real browser: by mouse and by keyboard, wide and narrow, and offline."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import combinations
from pathlib import Path
from urllib.parse import quote

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from tests.maps.made import HOSTILE, made, self_contained
from tests.maps.serving import served

SIZES = [(1280, 800), (390, 844)]


class Watched:
    """A page, what it asked for, and what it complained of."""

    def __init__(self, page: Page, address: str) -> None:
        self.page = page
        self.address = address
        self.requests: list[str] = []
        self.complaints: list[str] = []
        page.on("request", lambda request: self.requests.append(request.url))
        page.on("console", lambda message: self.complaints.append(message.text))
        page.on("pageerror", lambda error: self.complaints.append(str(error)))

    def open(self, mark: str = "") -> Page:
        self.page.goto(self.address + mark)
        expect(self.page.locator("#shown-day")).to_contain_text("As of")
        return self.page

    def data(self) -> list[str]:
        """What data was asked for since this was last called."""
        own = ("/assets/", "/scripts/", "favicon")
        asked = [url for url in self.requests if not any(part in url for part in own)]
        self.requests.clear()
        return asked

    def forgive(self, text: str) -> None:
        """Take back the browser's own complaint of a failure that the test made."""
        self.complaints = [complaint for complaint in self.complaints if text not in complaint]

    def unfold(self) -> None:
        if not self.page.locator("#panel").evaluate("panel => panel.open"):
            self.page.locator("#panel > summary").click()

    def fold(self) -> None:
        """On a phone, close the drawer over the day's controls; elsewhere it covers nothing."""
        close = self.page.locator("#panel-close")
        if close.is_visible():
            close.click()
            expect(close).to_be_hidden()


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    with served() as found:
        yield found


@pytest.fixture(params=SIZES, ids=["wide", "phone"])
def watched(request: pytest.FixtureRequest, browser: Browser, address: str) -> Iterator[Watched]:
    width, height = request.param
    context = browser.new_context(viewport={"width": width, "height": height})
    seen = Watched(context.new_page(), address)
    yield seen
    assert seen.complaints == []
    assert all(url.startswith((address, "data:", "blob:")) for url in seen.requests)
    assert seen.page.evaluate("window.broken") is None
    context.close()


def accessible(page: Page) -> None:
    results = Axe().run(page)
    assert results.violations_count == 0, results.generate_report()


def counts(page: Page) -> dict[str, int]:
    entries = page.locator("#legend .legend-entry").all()
    return {
        entry.locator(".word").inner_text(): int(entry.locator(".count").inner_text())
        for entry in entries
    }


def some_box(at: int = 5) -> str:
    return str(made().boxes["box"][at])


def test_every_theme_counts_every_box(watched: Watched) -> None:
    page = watched.open()
    watched.unfold()
    for theme in ("occupancy", "species", "fate", "due"):
        page.locator(f"input[name=theme][value={theme}]").check()
        if theme == "due":
            # Worked out when it is first asked for.
            expect(page.locator("#legend .word").first).to_have_text("urgent", timeout=30_000)
        assert sum(counts(page).values()) == len(made().boxes)
        accessible(page)


def test_a_theme_is_chosen_by_keyboard(watched: Watched) -> None:
    page = watched.open()
    watched.unfold()
    page.locator("input[name=theme]").first.focus()
    page.keyboard.press("ArrowDown")
    assert "no nest so far" in counts(page)


def test_the_day_moves_by_buttons_date_and_slider_without_asking_again(watched: Watched) -> None:
    page = watched.open()
    watched.data()
    shown = page.locator("#shown-day")
    expect(shown).to_have_text("As of Wed 3 June 2026")
    page.locator("#day-on").click()
    expect(shown).to_have_text("As of Thu 4 June 2026")
    page.locator("#day-back").press("Enter")
    expect(shown).to_have_text("As of Wed 3 June 2026")
    page.locator("#day").fill("2026-04-20")
    expect(shown).to_have_text("As of Mon 20 April 2026")
    page.locator("#slider").focus()
    page.keyboard.press("ArrowRight")
    expect(shown).to_have_text("As of Tue 21 April 2026")
    assert watched.data() == []


def test_early_in_the_season_no_box_has_been_checked(watched: Watched) -> None:
    page = watched.open("/#day=2026-02-01")
    watched.unfold()
    assert counts(page)["not checked"] == len(made().boxes)


def test_the_season_plays_and_stops(watched: Watched) -> None:
    page = watched.open("/#day=2026-05-01")
    watched.data()
    page.locator("#play").click()
    expect(page.locator("#play")).to_have_attribute("aria-pressed", "true")
    expect(page.locator("#shown-day")).to_contain_text(re.compile(r"([5-9]|\d\d) May|June"))
    page.locator("#play").press("Space")
    expect(page.locator("#play")).to_have_attribute("aria-pressed", "false")
    assert watched.data() == []


def test_another_season_is_chosen(watched: Watched) -> None:
    page = watched.open()
    page.locator("#seasons").select_option("2025")
    expect(page.locator("#shown-day")).to_contain_text("2025")


def test_the_legend_hides_and_shows_the_boxes_of_a_class(watched: Watched) -> None:
    page = watched.open("/#view=list")
    watched.unfold()
    first = page.locator("#legend .legend-entry").first
    number = int(first.locator(".count").inner_text())
    caption = page.locator("#list-view caption")
    everything = len(made().boxes)
    expect(caption).to_contain_text(f"{everything} boxes")
    first.press("Enter")
    expect(first).to_have_attribute("aria-pressed", "false")
    expect(caption).to_contain_text(f"{everything - number} boxes")
    first.click()
    expect(caption).to_contain_text(f"{everything} boxes")


def test_a_section_is_picked_out(watched: Watched) -> None:
    page = watched.open("/#view=list")
    watched.unfold()
    page.locator("#sections").select_option("1")
    expect(page.locator("#list-view caption")).to_contain_text("15 boxes")
    assert sum(counts(page).values()) == 15


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


def test_the_address_keeps_what_is_shown(watched: Watched) -> None:
    page = watched.open()
    watched.unfold()
    page.locator("input[name=theme][value=fate]").check()
    page.locator("#day").fill("2026-07-01")
    page.reload()
    expect(page.locator("#shown-day")).to_have_text("As of Wed 1 July 2026")
    watched.unfold()
    assert "no eggs so far" in counts(page)


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


def test_a_press_on_the_season_strip_chooses_the_day(watched: Watched) -> None:
    page = watched.open()
    strip = page.locator("#strip").bounding_box()
    assert strip is not None
    page.mouse.click(strip["x"] + 0.5, strip["y"] + 10)
    slider = page.locator("#slider")
    expect(slider).to_have_js_property("value", slider.get_attribute("min"))


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


def test_a_season_that_does_not_come_says_so_and_leaves_the_map_as_it_is(watched: Watched) -> None:
    page = watched.open()
    page.route("**/season/2025", lambda route: route.abort())
    page.locator("#seasons").select_option("2025")
    expect(page.locator("#notice")).to_contain_text("could not be loaded")
    expect(page.locator("#seasons")).to_have_value("2026")
    expect(page.locator("#shown-day")).to_have_text("As of Wed 3 June 2026")
    accessible(page)
    watched.forgive("net::ERR_FAILED")
    page.unroute("**/season/2025")
    page.locator("#seasons").select_option("2025")
    expect(page.locator("#shown-day")).to_contain_text("2025")
    expect(page.locator("#notice")).to_be_empty()


def test_an_address_given_to_an_open_map_is_followed(watched: Watched) -> None:
    page = watched.open()
    page.evaluate("() => { location.hash = 'theme=fate&day=2026-05-01&view=list'; }")
    expect(page.locator("#shown-day")).to_have_text("As of Fri 1 May 2026")
    expect(page.locator("#list-view table")).to_be_visible()
    watched.unfold()
    assert "no eggs so far" in counts(page)


def test_the_address_keeps_where_the_map_was_moved_to(watched: Watched) -> None:
    page = watched.open()
    assert "at=" not in page.url
    page.evaluate("() => window.trail_map.setView([42.6, -77.9], 17, { animate: false })")
    assert "at=17/42.60000/-77.90000" in page.url
    page.reload()
    expect(page.locator("#shown-day")).to_contain_text("As of")
    assert page.evaluate("() => window.trail_map.getZoom()") == 17


def test_an_address_that_makes_no_sense_opens_the_map_as_usual(watched: Watched) -> None:
    page = watched.open("/#day=2026-99-99&theme=moon&at=x/y/z&box=nobody")
    expect(page.locator("#shown-day")).to_have_text("As of Wed 3 June 2026")
    expect(page.locator("#card")).to_be_hidden()


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


def test_hostile_text_stays_text(watched: Watched) -> None:
    hostile = made().boxes["box"][made().boxes["box"].str.startswith("A ")].iat[0]
    page = watched.open(f"/#view=list&box={hostile.replace('&', '%26')}")
    expect(page.locator("#card h2")).to_have_text(f"Box {hostile}")
    expect(page.locator("#card")).to_contain_text(HOSTILE)
    expect(page.locator("h1")).to_contain_text(HOSTILE)


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
            return layer.base.box.filter((_, i) => {
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


def test_first_eggs_and_the_same_day_in_other_years_are_under_the_strip(watched: Watched) -> None:
    page = watched.open()
    page.locator("#compare > summary").click()
    expect(page.locator("#eggs-words li").first).to_contain_text("first egg")
    years = page.locator("#years li")
    expect(years).to_have_count(len(page.locator("#seasons option").all()))
    expect(years.first).to_contain_text("in use")
    accessible(page)
    years.filter(has_text="3 June 2025").get_by_role("button").click()
    expect(page.locator("#shown-day")).to_have_text("As of Tue 3 June 2025")
    expect(page.locator("#years [aria-current=true]")).to_contain_text("2025")
