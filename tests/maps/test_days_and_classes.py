"""Classes, days and seasons of the map in a real browser."""

from __future__ import annotations

import re

from playwright.sync_api import expect

from tests.maps.made import made
from tests.maps.watched import Watched, accessible, counts


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


def test_a_press_on_the_season_strip_chooses_the_day(watched: Watched) -> None:
    page = watched.open()
    strip = page.locator("#strip").bounding_box()
    assert strip is not None
    page.mouse.click(strip["x"] + 0.5, strip["y"] + 10)
    slider = page.locator("#slider")
    expect(slider).to_have_js_property("value", slider.get_attribute("min"))


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
