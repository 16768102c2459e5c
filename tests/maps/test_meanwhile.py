"""What comes late, or while somebody does something else: the last choice holds."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from urllib.parse import quote

import pytest
from playwright.sync_api import Browser, Page, Route, expect

from tests.maps.made import made
from tests.maps.test_card_days import under_way
from tests.maps.watched import Watched, accessible, counts, some_box

FOCUSED = "() => document.activeElement.id || document.activeElement.textContent"
IN_SIGHT = (
    "() => document.activeElement !== document.body && document.activeElement.checkVisibility()"
)


@contextmanager
def held(page: Page, pattern: str) -> Iterator[list[Route]]:
    """Requests of a pattern that are kept waiting, in the order in which they came."""
    waiting: list[Route] = []

    def keep(route: Route) -> None:
        waiting.append(route)

    page.route(pattern, keep)
    yield waiting
    page.unroute(pattern)


def until(page: Page, happened: Callable[[], bool]) -> None:
    """Give the page time until something has happened, for some seconds."""
    for _ in range(200):
        if happened():
            return
        page.wait_for_timeout(25)
    raise AssertionError("it did not happen")


def answered(page: Page, routes: list[Route]) -> None:
    """Let requests go, and wait for their answers and what the page makes of them."""
    for route in routes:
        with page.expect_response(route.request.url):
            route.continue_()
    page.wait_for_timeout(150)


def listen(page: Page) -> None:
    """Begin to note in `aloud` what the page has a screen reader say politely."""
    page.evaluate(
        """() => {
            window.aloud = [];
            for (const one of document.querySelectorAll("[role=status], [aria-live]")) {
                const note = () => window.aloud.push(one.textContent);
                new MutationObserver(note).observe(one, { childList: true, characterData: true });
            }
        }"""
    )


def test_while_what_is_due_is_worked_out_the_map_says_so_and_fills_in(watched: Watched) -> None:
    page = watched.open()
    watched.unfold()
    listen(page)
    with held(page, "**/due?*") as waiting:
        page.locator("input[name=theme][value=due]").check()
        until(page, lambda: len(waiting) == 1)
        expect(page.locator("#day-notice-text")).to_have_text(
            "Loading the visits due on Wed 3 June 2026…"
        )
        assert counts(page) == {"loading": len(made().boxes)}
        accessible(page)
        page.locator("#sections").select_option("1")
        page.locator("#sections").select_option("-1")
        page.wait_for_timeout(400)
        assert len(waiting) == 1
        answered(page, waiting)
    expect(page.locator("#day-notice-text")).to_contain_text("from the visits up to that day")
    assert "urgent" in counts(page)
    aloud = page.evaluate("() => window.aloud")
    assert aloud[0] == "Loading the visits due on Wed 3 June 2026…"
    assert re.match(r"Wed 3 June 2026: \d+ ", aloud[1])
    assert len(aloud) == 2


def test_what_is_due_on_a_day_left_meanwhile_is_not_shown_as_that_of_the_day_shown(
    watched: Watched,
) -> None:
    page = watched.open("/#theme=due")
    expect(page.locator("#day-notice-text")).to_contain_text("from the visits")
    listen(page)
    with held(page, "**/due?*") as waiting:
        page.locator("#day-on").click()
        until(page, lambda: len(waiting) == 1)
        page.locator("#day-on").click()
        until(page, lambda: len(waiting) == 2)
        answered(page, waiting[:1])
        expect(page.locator("#day-notice-text")).to_have_text(
            "Loading the visits due on Fri 5 June 2026…"
        )
        answered(page, waiting[1:])
    expect(page.locator("#day-notice-text")).to_contain_text("due on Fri 5 June 2026, from")
    assert not any(text.startswith("Thu 4 June 2026: ") for text in page.evaluate("() => aloud"))


def test_a_season_that_comes_late_does_not_take_the_place_of_the_day_chosen_since(
    watched: Watched,
) -> None:
    page = watched.open()
    with held(page, "**/season/2025") as waiting:
        page.locator("#seasons").select_option("2025")
        until(page, lambda: len(waiting) == 1)
        page.locator("#day").fill("2026-05-11")
        expect(page.locator("#shown-day")).to_have_text("As of Mon 11 May 2026")
        answered(page, waiting)
    expect(page.locator("#shown-day")).to_have_text("As of Mon 11 May 2026")
    expect(page.locator("#seasons")).to_have_value("2026")


def test_a_season_that_fails_late_is_no_trouble_of_the_day_chosen_since(watched: Watched) -> None:
    page = watched.open()
    with held(page, "**/season/2025") as waiting:
        page.locator("#seasons").select_option("2025")
        until(page, lambda: len(waiting) == 1)
        page.locator("#day").fill("2026-05-11")
        waiting[0].abort()
        page.wait_for_timeout(150)
    watched.forgive("net::ERR_FAILED")
    expect(page.locator("#notice")).to_be_empty()
    page.locator("#seasons").select_option("2025")
    expect(page.locator("#shown-day")).to_contain_text("2025")


def test_a_season_is_requested_once_however_often_it_is_chosen(watched: Watched) -> None:
    page = watched.open()
    with held(page, "**/season/2025") as waiting:
        for season in ("2025", "2026", "2025"):
            page.locator("#seasons").select_option(season)
        until(page, lambda: len(waiting) >= 1)
        page.wait_for_timeout(150)
        assert len(waiting) == 1
        answered(page, waiting)
    expect(page.locator("#shown-day")).to_contain_text("2025")


def test_of_two_addresses_the_last_one_holds_whichever_comes_first(watched: Watched) -> None:
    page = watched.open()
    with held(page, "**/season/2025") as waiting:
        go = "hash => { location.hash = hash; }"
        page.evaluate(go, f"day=2025-06-01&box={quote(some_box(5), safe='')}")
        until(page, lambda: len(waiting) == 1)
        page.evaluate(go, f"day=2026-06-01&box={quote(some_box(9), safe='')}")
        expect(page.locator("#card h2")).to_have_text(f"Box {some_box(9)}")
        answered(page, waiting)
    expect(page.locator("#card h2")).to_have_text(f"Box {some_box(9)}")
    expect(page.locator("#shown-day")).to_have_text("As of Mon 1 June 2026")


def test_a_card_of_a_day_left_meanwhile_is_not_shown(watched: Watched) -> None:
    box, _ = under_way()
    page = watched.open(f"/#box={quote(box, safe='')}")
    card = page.locator("#card")
    expect(card.locator(".needs")).to_be_visible()
    with held(page, "**/card/**") as waiting:
        for day, came in (("2026-06-04", 1), ("2026-06-05", 2)):
            page.locator("#day").fill(day)
            until(page, lambda came=came: len(waiting) == came)  # type: ignore[misc]
        answered(page, waiting[1:])
        expect(card.locator(".needs")).to_be_visible()
        answered(page, waiting[:1])
        expect(card.locator(".needs")).to_be_visible()
        page.wait_for_timeout(400)
        assert len(waiting) == 2


def test_a_card_keeps_what_is_unfolded_and_the_keyboard_when_the_day_moves(
    watched: Watched,
) -> None:
    box, _ = under_way()
    page = watched.open(f"/#box={quote(box, safe='')}")
    folded = page.locator("#card .nest details").last
    folded.locator("summary").press("Enter")
    assert folded.evaluate("details => details.open")
    summary = page.evaluate(FOCUSED)
    page.evaluate("() => document.getElementById('day-on').click()")
    expect(page.locator("#card .card-now")).to_contain_text("4 June 2026")
    expect(page.locator("#card .needs")).to_be_visible()
    assert page.locator("#card .nest details").last.evaluate("details => details.open")
    assert page.evaluate(FOCUSED) == summary


def test_what_comes_for_the_map_leaves_the_card_alone(watched: Watched) -> None:
    page = watched.open(f"/#box={quote(some_box(), safe='')}")
    expect(page.locator("#card h2")).to_be_visible()
    close = page.locator("#card .close")
    close.focus()
    page.locator("#card").evaluate("card => { card.firstElementChild.own = true; }")
    page.evaluate("() => document.querySelector('input[name=theme][value=fate]').click()")
    assert page.locator("#card").evaluate("card => card.firstElementChild.own")
    expect(close).to_be_focused()


def test_in_the_list_the_keyboard_comes_back_to_the_box_whose_card_was_closed(
    watched: Watched,
) -> None:
    page = watched.open("/#view=list")
    opener = page.locator(".open-box").nth(3)
    opener.press("Enter")
    expect(page.locator("#card")).to_be_focused()
    page.keyboard.press("Escape")
    expect(page.locator(".open-box").nth(3)).to_be_focused()
    page.locator("#sort-box").press("Enter")
    expect(page.locator("#sort-box")).to_be_focused()


def test_a_card_opened_by_an_address_gives_the_keyboard_to_the_map(watched: Watched) -> None:
    page = watched.open(f"/#box={quote(some_box(), safe='')}")
    expect(page.locator("#card")).to_be_focused()
    page.keyboard.press("Escape")
    assert page.evaluate(IN_SIGHT)


def test_a_choice_of_boxes_stays_when_the_day_moves(watched: Watched) -> None:
    page = watched.open(f"/#box={quote(some_box(), safe='')}")
    expect(page.locator("#card h2")).to_be_visible()
    page.evaluate(
        """() => {
            const layer = Object.values(window.trail_map._layers).find((one) => one.base);
            layer.near = () => [2, 3];
            layer.place = () => window.trail_map.getCenter();
            window.trail_map.fire("click", { containerPoint: L.point(9, 9) });
        }"""
    )
    expect(page.locator("#card h2")).to_have_text("Which box?")
    page.evaluate("() => document.getElementById('day-on').click()")
    expect(page.locator("#shown-day")).to_have_text("As of Thu 4 June 2026")
    expect(page.locator("#card h2")).to_have_text("Which box?")


def test_nothing_can_be_pressed_before_there_is_something_to_show(
    browser: Browser, address: str
) -> None:
    context = browser.new_context()
    seen = Watched(context.new_page(), address)
    page = seen.page
    with held(page, "**/season/**") as waiting:
        page.goto(address)
        until(page, lambda: len(waiting) == 1)
        page.locator("#day-on").evaluate("button => button.focus()")
        page.keyboard.press("Enter")
        assert page.locator("main").evaluate("main => main.inert")
        waiting[0].continue_()
        expect(page.locator("#shown-day")).to_have_text("As of Wed 3 June 2026")
    expect(page.locator("#day-on")).to_be_enabled()
    assert not page.locator("main").evaluate("main => main.inert")
    assert seen.complaints == []
    context.close()


def test_a_map_that_cannot_be_loaded_says_so(browser: Browser, address: str) -> None:
    context = browser.new_context()
    page = context.new_page()
    page.route("**/base", lambda route: route.abort())
    page.goto(address)
    expect(page.get_by_role("alert").filter(has_text="could not be loaded")).to_be_visible()
    context.close()


@pytest.mark.parametrize(("wish", "moves"), [("reduce", False), ("no-preference", True)])
def test_the_map_moves_smoothly_unless_less_motion_is_preferred(
    browser: Browser, address: str, wish: str, moves: bool
) -> None:
    context = browser.new_context(reduced_motion=wish)  # type: ignore[arg-type]
    page = Watched(context.new_page(), address).open()
    options = "o => [o.zoomAnimation, o.fadeAnimation, o.inertia]"
    assert page.evaluate(f"() => ({options})(window.trail_map.options)") == [moves] * 3
    context.close()


def test_a_day_that_no_calendar_has_is_not_taken_for_another(watched: Watched) -> None:
    page = watched.open("/#day=2026-02-31")
    expect(page.locator("#shown-day")).to_have_text("As of Wed 3 June 2026")


def test_of_ids_that_differ_by_capitals_the_one_that_was_typed_is_found(watched: Watched) -> None:
    page = watched.open()
    watched.unfold()
    page.evaluate(
        """async () => {
            const { addFinder } = await import("/scripts/finder.js");
            addFinder(["ZZ1", "zz1"], (i) => { window.found = i; });
        }"""
    )
    for typed, number in (("zz1", 1), ("ZZ1", 0), ("Zz1", 0)):
        page.locator("#find-box").fill(typed)
        page.keyboard.press("Enter")
        assert page.evaluate("() => window.found") == number
