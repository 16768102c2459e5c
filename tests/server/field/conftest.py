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
from tests.server.field.line import Line
from tests.server.field.phone import Phone
from tests.server.field.walker import Walker
from tests.server.field.webkit import WebKit, missing

DAY = "2026-06-03"
NEVER_VISITED, CLOSED = "O11", "M05"


def free_port() -> int:
    with socket.socket() as tried:
        tried.bind(("127.0.0.1", 0))
        return int(tried.getsockname()[1])


class Site:
    """A trail served on a day behind Caddy's https; it can go and return."""

    def __init__(self, trail: Path, folder: Path, start: Callable[..., Process]) -> None:
        self._trail, self._folder, self._start = trail, folder, start
        self._port, self._https_port = free_port(), free_port()
        self.address = f"https://localhost:{self._https_port}"
        self.begin()

    def begin(self) -> None:
        self.server = self._start(self._trail, "--on", DAY, "--port", str(self._port))
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
        self._caddy.kill()
        self._caddy.wait()


def boxes_of_a_round(address: str, count: int) -> list[str]:
    """One that was never visited this season, one in its closed days, and others."""
    day = httpx.get(f"{address}/field/day", verify=False, timeout=240).json()
    walked = {str(one["box"]) for one in day["boxes"] if one["lat"] and one["approach"] != "leave"}
    return [NEVER_VISITED, CLOSED, *sorted(walked - {NEVER_VISITED, CLOSED})][:count]


def needed(program: str) -> str:
    """A program of the system; a machine of ours must have it, another may do without."""
    found = shutil.which(program)
    if found is None and os.environ.get("CI"):
        raise FileNotFoundError(f"Expected {program}")
    return found or pytest.skip(f"no {program} on this machine")


@pytest.fixture
def site(start: Callable[..., Process], trail_path: Path, tmp_path: Path) -> Iterator[Site]:
    """Serves the demo trail of this test over https."""
    served = Site(trail_path, tmp_path, start)
    yield served
    served.end()


@pytest.fixture(scope="module")
def served(built: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Path, Process]]:
    """A trail and its server, for tests that do without a start of their own."""
    path = Path(shutil.copy(built, tmp_path_factory.mktemp("field") / "trail.gpkg"))
    process = Process(path, "--on", DAY)
    yield path, process
    process.stop()


@pytest.fixture
def line(served: tuple[Path, Process]) -> Iterator[Line]:
    """A line to the shared server, which this test may cut."""
    opened = Line(int(served[1].address.rpartition(":")[2]))
    yield opened
    opened.cut()


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
