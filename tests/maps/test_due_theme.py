"""What is due, on the map: for the day shown, and as the engine says it."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from pathlib import Path

import numpy as np
import pytest
from playwright.sync_api import Browser, Page, expect

from layers.maps.themes.due import WORDS, due_code
from layers.nesting.due import CAN_WAIT, DUE, LEAVE, NOT_DUE, OPEN, URGENT, WATCH, Due
from tests.maps.made import ON, due_data, due_on, made, self_contained
from tests.maps.unpacking import unpack
from tests.maps.watched import Watched, accessible, counts

LATER = ON + dt.timedelta(days=1)


def needed(urgency: str, approach: str) -> Due:
    return Due("A1", urgency != NOT_DUE, urgency, (), None, approach, "", "")


@pytest.mark.parametrize(
    ("one", "word"),
    [
        (needed(URGENT, OPEN), "urgent"),
        (needed(DUE, OPEN), "due"),
        (needed(CAN_WAIT, OPEN), "can wait"),
        (needed(NOT_DUE, OPEN), "not due"),
        (needed(URGENT, WATCH), "due: watch from a distance"),
        (needed(NOT_DUE, WATCH), "not due: watch from a distance"),
        (needed(NOT_DUE, LEAVE), "leave alone"),
        (None, "out of service"),
    ],
)
def test_how_to_look_comes_before_how_urgent_it_is(one: Due | None, word: str) -> None:
    assert WORDS[due_code(one)] == word


def test_the_data_of_a_day_hold_what_the_engine_says() -> None:
    header, columns = unpack(due_data(ON))
    assert header["on"] == ON.isoformat()
    of_box = {one.box: one for one in due_on(ON)}
    for at, box in enumerate(made().boxes["box"]):
        one = of_box[box]
        assert columns["due"][at] == due_code(one)
        kinds = columns["reasons"][int(columns["reason"][at])]
        assert kinds == ", ".join(reason.kind for reason in one.reasons)
        until = np.datetime64(int(columns["until"][at]), "D").item()
        assert until == (one.until or dt.date(1969, 12, 31))


def by_word(on: dt.date) -> Counter[str]:
    return Counter(WORDS[due_code(one)] for one in due_on(on))


def shown(page: Page) -> Counter[str]:
    return Counter({word: count for word, count in counts(page).items() if count})


def told(page: Page) -> None:
    expect(page.locator("#day-notice-text")).to_contain_text("from the visits up to that day")


def test_the_legend_counts_what_the_engine_says_by_mouse(watched: Watched) -> None:
    page = watched.open()
    watched.unfold()
    page.locator("input[name=theme][value=due]").click()
    told(page)
    assert shown(page) == by_word(ON)
    expect(page.locator("#strip")).to_be_hidden()
    expect(page.locator("#play")).to_be_disabled()
    accessible(page)
    page.locator("input[name=theme][value=occupancy]").click()
    expect(page.locator("#strip")).to_be_visible()
    expect(page.locator("#play")).to_be_enabled()


def test_the_theme_is_chosen_and_its_day_moved_by_keyboard(watched: Watched) -> None:
    page = watched.open()
    watched.unfold()
    page.locator("input[name=theme]").first.focus()
    for _ in range(3):
        page.keyboard.press("ArrowDown")
    told(page)
    assert shown(page) == by_word(ON)
    watched.data()
    page.locator("#day-on").press("Enter")
    expect(page.locator("#day-notice-text")).to_contain_text("due on Thu 4 June 2026, from")
    assert shown(page) == by_word(LATER)
    assert by_word(LATER) != by_word(ON)
    page.locator("#day-back").press("Enter")
    expect(page.locator("#day-notice-text")).to_contain_text("due on Wed 3 June 2026, from")
    assert shown(page) == by_word(ON)
    assert [url.rsplit("/", 1)[1] for url in watched.data()] == ["due?on=2026-06-04"]


def test_other_themes_never_ask_what_is_due(watched: Watched) -> None:
    page = watched.open("/#theme=fate")
    page.locator("#day-on").click()
    expect(page.locator("#shown-day")).to_have_text("As of Thu 4 June 2026")
    page.wait_for_timeout(400)
    assert [url for url in watched.data() if "due" in url] == []


def test_until_a_day_is_loaded_nothing_is_shown_as_due(watched: Watched) -> None:
    page = watched.open("/#theme=due")
    told(page)
    page.route("**/due?*", lambda route: route.abort())
    page.locator("#day-on").click()
    expect(page.locator("#day-notice-text")).to_contain_text("4 June 2026 could not be loaded")
    watched.unfold()
    assert shown(page) == {"could not be loaded": len(made().boxes)}
    accessible(page)
    page.unroute("**/due?*")
    page.get_by_role("button", name="Try again").press("Enter")
    told(page)
    assert shown(page) == by_word(LATER)
    watched.forgive("net::ERR_FAILED")


def test_the_list_shows_what_is_due_and_why(watched: Watched) -> None:
    page = watched.open("/#theme=due&view=list")
    told(page)
    accessible(page)
    of_box = {one.box: one for one in due_on(ON)}
    for row in page.locator("#list-view tbody tr").all():
        one = of_box[row.locator(".open-box").inner_text()]
        cell = row.locator("td.due").inner_text()
        assert WORDS[due_code(one)] in cell
        assert all(reason.kind in cell for reason in one.reasons)
        until = "" if one.until is None else f"until {one.until:%a} {one.until.day} {one.until:%b}"
        assert until in cell
    page.locator("#sort-due").press("Enter")
    first = page.locator("#list-view td.due").first.inner_text()
    assert first.startswith(min(by_word(ON), key=WORDS.index))


def test_the_season_stops_playing_when_the_theme_is_chosen(watched: Watched) -> None:
    page = watched.open("/#day=2026-05-01")
    watched.unfold()
    watched.fold()
    page.locator("#play").click()
    expect(page.locator("#play")).to_have_text("Stop")
    watched.unfold()
    page.locator("input[name=theme][value=due]").check()
    expect(page.locator("#play")).to_have_text("Play the season")
    told(page)


def test_one_file_shows_what_is_due_for_one_day_and_says_so(
    browser: Browser, tmp_path: Path
) -> None:
    file = tmp_path / "map.html"
    file.write_text(self_contained(), encoding="utf-8")
    context = browser.new_context(offline=True, viewport={"width": 390, "height": 844})
    seen = Watched(context.new_page(), file.as_uri())
    page = seen.open("#theme=due&day=2026-06-10")
    expect(page.locator("#day-notice-text")).to_have_text(
        "This file shows the visits due on Wed 3 June 2026 only."
    )
    seen.unfold()
    assert shown(page) == {"not known for this day": len(made().boxes)}
    accessible(page)
    page.locator("#panel").evaluate("panel => { panel.open = false; }")
    page.get_by_role("button", name="Show Wed 3 June 2026").click()
    told(page)
    seen.unfold()
    assert shown(page) == by_word(ON)
    assert seen.complaints == []
    context.close()
