"""Chromium as a phone with a storage of its own, which can be killed as when the battery dies."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

from playwright.sync_api import BrowserContext, BrowserType, Page, expect

from tests.conftest import CHROMIUM
from tests.server.field.walker import Walker

SIZE = {"width": 390, "height": 844}
KEPT = "Opens without a signal"


class Phone(Walker):
    """Chromium on a folder of its own. The field page is opened by its full address."""

    def __init__(self, browser_type: BrowserType, folder: Path, address: str) -> None:
        self._browser_type = browser_type
        self._folder = folder
        self.address = address
        self.open()

    def open(self) -> None:
        self.context: BrowserContext = self._browser_type.launch_persistent_context(
            str(self._folder),
            executable_path=CHROMIUM,
            # Unlike Playwright's own option, this lets a page over a certificate of our own
            # register its worker.
            args=["--no-sandbox", "--disable-background-networking", "--ignore-certificate-errors"],
            viewport=SIZE,  # type: ignore[arg-type]
            has_touch=True,
        )
        self.open_tab()

    def open_tab(self) -> None:
        self.page: Page = self.context.new_page()
        self.go(self.address)
        expect(self.page.locator(".count")).to_be_visible(timeout=60_000)

    def close_tab(self) -> None:
        self.page.close()
        self.open_tab()

    def kill(self) -> None:
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

    def go(self, address: str) -> None:
        self.page.goto(address)

    def see(self, expression: str) -> Any:
        return self.page.evaluate(f"() => ({expression})")

    def press(self, xpath: str) -> None:
        self.page.locator(f"xpath={xpath}").first.click()
