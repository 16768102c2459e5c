"""Every page with a map at five widths, by day and by night: axe-core finds nothing."""

from __future__ import annotations

from typing import Literal

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, expect

from tests.server.serving import Served

ADDRESSES = (
    "/",
    "/#box=M01",
    "/#view=list",
    "/round?set=due",
    "/site",
    "/field?set=boxes&order=given&boxes=M01,M02",
    "/open/",
    "/open/embed.html",
)
HEIGHTS = {320: 640, 390: 844, 768: 1024, 1280: 800, 1920: 1080}
USUAL = [(390, "light"), (1280, "dark")]
LOOKS = [
    pytest.param(width, look, marks=() if (width, look) in USUAL else pytest.mark.long)
    for width in HEIGHTS
    for look in ("light", "dark")
]


@pytest.mark.slow
@pytest.mark.parametrize(("width", "look"), LOOKS)
def test_axe_finds_nothing_on_a_page_with_a_map(
    browser: Browser, demo_server: Served, width: int, look: Literal["light", "dark"]
) -> None:
    size = {"width": width, "height": HEIGHTS[width]}
    page = browser.new_page(viewport=size, color_scheme=look)  # type: ignore[arg-type]
    for address in ADDRESSES:
        page.goto("about:blank")
        page.goto(f"{demo_server.address}{address}")
        expect(page.locator(".leaflet-container").first).to_be_attached()
        page.wait_for_load_state("networkidle")
        for folded in page.locator("#panel, #compare, #key").all():
            folded.evaluate("part => { part.open = true; }")
        report = Axe().run(page)
        assert report.violations_count == 0, (address, report.generate_report())
        assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"), address
    page.close()
