"""A page of the map that a test watches, and what tests read on it."""

from __future__ import annotations

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from tests.maps.made import made


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
