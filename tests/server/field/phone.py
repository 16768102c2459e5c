"""A phone with a storage of its own, whose browser can be killed as when the battery dies."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

from playwright.sync_api import BrowserContext, BrowserType, Page, expect

from tests.conftest import CHROMIUM

SIZE = {"width": 390, "height": 844}
KEPT = "Opens without a signal"


class Phone:
    """Chromium on a folder of its own. The field page is opened by its full address."""

    def __init__(self, browser_type: BrowserType, folder: Path, address: str) -> None:
        self._browser_type = browser_type
        self._folder = folder
        self.address = address
        self.taps = 0
        self.open()

    def open(self) -> None:
        """Start the browser, and the page in it."""
        self.context: BrowserContext = self._browser_type.launch_persistent_context(
            str(self._folder),
            executable_path=CHROMIUM,
            args=["--no-sandbox", "--disable-background-networking"],
            viewport=SIZE,  # type: ignore[arg-type]
            has_touch=True,
        )
        self.open_tab()

    def open_tab(self) -> None:
        self.page: Page = self.context.new_page()
        self.page.goto(self.address)
        expect(self.page.locator(".count")).to_be_visible(timeout=60_000)

    def close_tab(self) -> None:
        """The tab is closed without asking the page, and opened again."""
        self.page.close()
        self.open_tab()

    def kill(self) -> None:
        """Every process of this browser ends at once."""
        for process in self._processes():
            with suppress(ProcessLookupError):
                os.kill(process, signal.SIGKILL)
        (self._folder / "SingletonLock").unlink(missing_ok=True)

    def _processes(self) -> Iterator[int]:
        for entry in Path("/proc").iterdir():
            with suppress(OSError, ValueError):
                words = (entry / "cmdline").read_bytes().split(b"\0")
                if f"--user-data-dir={self._folder}".encode() in words:
                    yield int(entry.name)

    # What a walker does

    def tap(self, name: str) -> None:
        self.taps += 1
        self.page.get_by_role("button", name=name, exact=True).first.click()

    def number(self, label: str, count: int) -> None:
        """Choose a count from the numbers: two taps."""
        self.taps += 2
        self.page.locator(f"[role=group][aria-label={label}] .number").click()
        self.page.locator(".pad").get_by_text(str(count), exact=True).click()

    def title(self) -> str:
        """The id of the box that is shown; empty in the list."""
        found = self.page.evaluate(
            "decodeURIComponent(location.hash.startsWith('#box=') ? location.hash.slice(5) : '')"
        )
        expect(self.page.locator(".foot" if found else ".count")).to_be_visible()
        return str(found)

    def save(self) -> None:
        """Save, confirm what the page asks about, and wait until it was said to be saved."""
        box = self.title()
        self.page.locator(".save").click()
        self.taps += 1
        asked = self.page.locator(".odd")
        saved = self.page.locator("#toast").filter(has_text=f"Saved {box}:")
        expect(asked.or_(saved)).to_be_visible()
        for _ in range(asked.get_by_role("button").count()):
            self.tap("It is right")
        expect(saved).to_be_visible()

    def open_box(self, box: str) -> None:
        self.page.evaluate("box => { location.hash = '#box=' + encodeURIComponent(box) }", box)
        expect(self.page.locator("#title")).to_have_text(box)
        expect(self.page.locator(".foot")).to_be_visible()
