"""The season's report in a browser and on paper."""

from __future__ import annotations

import io
import re
from typing import Any

import pypdf
import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from tests.server.serving import Served

WIDE, PHONE = {"width": 1280, "height": 800}, {"width": 390, "height": 844}


@pytest.fixture
def served(demo_server: Served) -> str:
    return demo_server.address


def opened(browser: Browser, address: str, **look: Any) -> Page:
    page = browser.new_page(**look)
    problems: list[str] = []
    page.on("console", lambda message: problems.append(message.text))
    # Some ten plots are drawn meanwhile, by the process that runs the test.
    page.goto(address, timeout=120_000)
    assert problems == []
    return page


def test_the_page_is_accessible_and_its_form_works_by_keyboard(
    browser: Browser, served: str
) -> None:
    page = opened(browser, f"{served}/season?year=2025", viewport=WIDE)
    assert Axe().run(page).violations_count == 0
    page.get_by_label("Grouped by").focus()
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    expect(page.get_by_label("Grouped by")).to_have_value("guard")
    expect(page.get_by_label("Season", exact=True)).to_have_value("2025")
    expect(
        page.get_by_role("img", name=re.compile("Daily survival of nests by guard"))
    ).to_be_visible()
    page.close()


def test_the_page_needs_no_script_and_fits_a_phone(browser: Browser, served: str) -> None:
    page = opened(browser, f"{served}/season", viewport=PHONE, java_script_enabled=False)
    expect(page.get_by_role("heading", name="How did the boxes do?")).to_be_visible()
    page.close()
    page = opened(browser, f"{served}/season", viewport=PHONE)
    assert page.evaluate("document.documentElement.scrollWidth") == PHONE["width"]
    assert Axe().run(page).violations_count == 0
    small = page.evaluate(
        """[...document.querySelectorAll('main a, main button, main select')]
            .filter(one => one.getBoundingClientRect().height < 44).length"""
    )
    assert small == 0
    page.close()


def test_a_long_table_is_folded_on_a_screen_and_whole_on_paper(
    browser: Browser, served: str
) -> None:
    page = opened(browser, f"{served}/season?year=2025", viewport=WIDE)
    folded = page.locator("details", has_text="Box by box")
    expect(folded.locator("table")).to_be_hidden()
    page.emulate_media(media="print")
    expect(folded.locator("table")).to_be_visible()
    page.emulate_media(media="screen")
    folded.locator("summary").press("Enter")
    expect(folded.locator("table")).to_be_visible()
    # The heads of a table stand above their columns, whatever class another page gives it.
    for table in page.locator(".sheet table").all():
        assert table.evaluate(
            "(one) => [...one.rows].every((row) => row.offsetWidth === one.rows[0].offsetWidth)"
        )
    page.close()


def test_every_plot_is_drawn_in_the_page(browser: Browser, served: str) -> None:
    page = opened(browser, f"{served}/season", viewport=WIDE)
    plots = page.locator(".plot img")
    for at in range(plots.count()):
        plots.nth(at).scroll_into_view_if_needed()
        expect(plots.nth(at)).to_have_js_property("complete", value=True)
        assert plots.nth(at).evaluate("image => image.naturalWidth") > 300
    assert plots.count() == 6
    page.close()


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_report_prints_with_its_answer_on_the_first_page(
    browser: Browser, served: str, paper: str
) -> None:
    page = opened(browser, f"{served}/season", viewport=WIDE)
    printed = pypdf.PdfReader(io.BytesIO(page.pdf(format=paper)))
    first = re.sub(r"\s+", " ", printed.pages[0].extract_text())
    assert "How did the boxes do?" in first
    assert "43 of 57 boxes" in first
    assert "Grouped by" not in first
    assert 8 <= len(printed.pages) <= 20
    assert "Which nests count" in " ".join(each.extract_text() for each in printed.pages)
    page.close()
