"""A server with https in front, and phones of two engines at its field page."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import httpx
import pytest
from playwright.sync_api import Browser

from tests.server.conftest import Process
from tests.server.field.phone import Phone
from tests.server.field.walker import Walker
from tests.server.field.webkit import WebKit, missing

DAY = "2026-06-03"


def free_port() -> int:
    with socket.socket() as tried:
        tried.bind(("127.0.0.1", 0))
        return int(tried.getsockname()[1])


class Site:
    """A trail served on a day, behind Caddy's https if requested; it can go and return."""

    def __init__(self, trail: Path, folder: Path, start: Callable[..., Process], *, https: bool):
        self._trail, self._folder, self._start = trail, folder, start
        self._port, self._https_port = free_port(), free_port() if https else 0
        self.begin()

    @property
    def address(self) -> str:
        if self._https_port:
            return f"https://localhost:{self._https_port}"
        return f"http://127.0.0.1:{self._port}"

    def begin(self) -> None:
        self.server = self._start(self._trail, "--on", DAY, "--port", str(self._port))
        if self._https_port:
            self._begin_https()

    def _begin_https(self) -> None:
        caddyfile = self._folder / "Caddyfile"
        caddyfile.write_text(
            f"{{\n\tadmin off\n\tskip_install_trust\n\thttp_port {free_port()}\n"
            f"\tstorage file_system {self._folder / 'caddy'}\n}}\n"
            f"{self.address} {{\n\tbind 127.0.0.1\n\ttls internal\n"
            f"\treverse_proxy 127.0.0.1:{self._port}\n}}\n",
            encoding="utf-8",
        )
        words = [needed("caddy"), "run", "--config", str(caddyfile), "--adapter", "caddyfile"]
        self._caddy = subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        until = time.monotonic() + 60
        while True:
            try:
                httpx.get(f"{self.address}/health", verify=False, timeout=20)
                return
            except httpx.TransportError:
                assert time.monotonic() < until
                time.sleep(0.1)

    def end(self) -> None:
        """No signal: nothing answers any more."""
        if self.server.running:
            self.server.kill()
        if self._https_port:
            self._caddy.kill()
            self._caddy.wait()

    def day(self) -> list[dict[str, object]]:
        body = httpx.get(f"http://127.0.0.1:{self._port}/field/day", timeout=240).json()
        return list(body["boxes"])


def needed(program: str) -> str:
    """A program of the system; a machine of ours must have it, another may do without."""
    found = shutil.which(program)
    if found is None and os.environ.get("CI"):
        raise FileNotFoundError(f"Expected {program}")
    return found or pytest.skip(f"no {program} on this machine")


@pytest.fixture
def site(
    start: Callable[..., Process], trail_path: Path, tmp_path: Path
) -> Iterator[Callable[..., Site]]:
    """Serves the demo trail of this test."""
    begun: list[Site] = []

    def begin(*, https: bool = False) -> Site:
        begun.append(Site(trail_path, tmp_path, start, https=https))
        return begun[-1]

    yield begin
    for one in begun:
        one.end()


@pytest.fixture
def walker(
    request: pytest.FixtureRequest, tmp_path: Path
) -> Iterator[Callable[[str, str], Walker]]:
    """Opens a phone of an engine at an address, with the page there without a signal."""
    opened: list[Walker] = []

    def begin(engine: str, address: str) -> Walker:
        one: Walker
        if engine == "webkit":
            if why := missing():
                if os.environ.get("CI"):
                    raise FileNotFoundError(why)
                pytest.skip(why)
            one = WebKit(tmp_path / "webkit", address)
        else:
            browser: Browser = request.getfixturevalue("browser")
            one = Phone(browser.browser_type, tmp_path / "phone", address)
        opened.append(one)
        one.wait("document.querySelector('#notes').textContent.includes('Opens without a signal')")
        return one

    yield begin
    for one in opened:
        one.kill()
        if isinstance(one, WebKit):
            one.end()
