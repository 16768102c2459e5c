"""The map's address in a real browser: it keeps what is shown."""

from __future__ import annotations

from playwright.sync_api import expect

from tests.maps.watched import Watched, counts


def test_the_address_keeps_what_is_shown(watched: Watched) -> None:
    page = watched.open()
    watched.unfold()
    page.locator("input[name=theme][value=fate]").check()
    page.locator("#day").fill("2026-07-01")
    page.reload()
    expect(page.locator("#shown-day")).to_have_text("As of Wed 1 July 2026")
    watched.unfold()
    assert "no eggs so far" in counts(page)


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
