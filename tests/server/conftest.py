"""A demo trail of one's own, an app on it, and real server processes."""

from __future__ import annotations

import datetime as dt
import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any, Protocol

import httpx
import pytest
from fastapi.testclient import TestClient

from data_demo.build import PUBLIC_RULES, build_demo
from data_demo.demo import TIMEZONE, make_demo
from data_demo.reserve import RESERVE_NAME
from layers.trail.settings import Settings
from layers.trail.store import Trail
from server.app import create_app
from server.settings import ServerSettings
from tests.server.serving import Served, served
from tests.server.team import TeamClient, make_team

ON = dt.date(2026, 6, 3)
HOST = "http://127.0.0.1"


@pytest.fixture(scope="session")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("built") / "demo.gpkg"
    build_demo(path)
    return path


FEW = ("M01", "M02", "M03", "M04", "M05", "M06", "O11", "P01")


@pytest.fixture(scope="session")
def few_boxes(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's land with eight of its boxes, in their last season.

    For tests of many addresses, where little matters but that each page has something to show.
    """
    path, demo = tmp_path_factory.mktemp("few") / "few.gpkg", make_demo()
    settings = Settings(name=RESERVE_NAME, timezone=TIMEZONE, public_rules=PUBLIC_RULES)
    with Trail.create(path, settings) as trail:
        trail.add_rows("boxes", [row for row in demo.reserve.boxes if row["box"] in FEW])
        trail.add_rows("paths", demo.reserve.paths)
        trail.add_rows("places", demo.reserve.places)
        trail.add_rows("zones", demo.reserve.zones)
        of_them = [row for row in demo.visits() if row["box"] in FEW]
        last = max(str(row["seen_on"])[:4] for row in of_them)
        trail.add_rows("visits", [row for row in of_them if str(row["seen_on"])[:4] == last])
    return path


@pytest.fixture
def trail_path(built: Path, tmp_path: Path) -> Path:
    """A copy of the demo trail that a test may change."""
    return Path(shutil.copy(built, tmp_path / "trail.gpkg"))


@pytest.fixture
def client(trail_path: Path) -> Iterator[TestClient]:
    app = create_app(ServerSettings(trail=trail_path, on=ON, busy_s=0.2))
    with TestClient(app, raise_server_exceptions=False, base_url=HOST) as opened:
        yield opened


@pytest.fixture
def team(trail_path: Path) -> Iterator[TeamClient]:
    """An app on a trail with a team, closed to whoever is not of it."""
    mark, tokens = make_team(trail_path)
    app = create_app(ServerSettings(trail=trail_path, on=ON, busy_s=0.5))
    with TestClient(
        app, raise_server_exceptions=False, base_url=HOST, follow_redirects=False
    ) as opened:
        yield TeamClient(opened, trail_path, mark, tokens)


class Process:
    """A server process; `kill` is sudden, as when the power goes."""

    def __init__(self, trail: Path, *words: str) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-m", "server.command", "serve", str(trail), "--port", "0", *words],
            stdout=subprocess.PIPE,
            text=True,
            start_new_session=True,
        )
        assert self._process.stdout is not None
        line = self._process.stdout.readline()
        found = re.search(r"http://127\.0\.0\.1:\d+", line)
        if found is None:
            self.kill()
        assert found, f"the server did not start: {line!r}"
        self.address = found[0]
        # Worker processes start after the address is told; connections wait for them.
        httpx.get(f"{self.address}/health", timeout=60)

    @property
    def running(self) -> bool:
        return self._process.poll() is None

    def kill(self) -> None:
        self._process.kill()
        self._finish()

    def stop(self) -> int:
        """Ask it to stop; its exit code."""
        self._process.send_signal(signal.SIGINT)
        return self._finish()

    def _finish(self) -> int:
        code = self._process.wait(timeout=20)
        assert self._process.stdout is not None
        self._process.stdout.close()
        return code


@pytest.fixture
def start() -> Iterator[Callable[..., Process]]:
    """Start server processes; those still running are stopped after the test."""
    started: list[Process] = []

    def begin(trail: Path, *words: str) -> Process:
        process = Process(trail, *words)
        started.append(process)
        return process

    yield begin
    for process in started:
        if process.running:
            process.stop()


class Serve(Protocol):
    """Serve a trail within this process, with settings of one's own."""

    def __call__(self, trail: Path, **settings: Any) -> Served: ...


@pytest.fixture
def serve() -> Iterator[Serve]:
    """Serve trails at once, until the test ends; for what kills no server use `start`."""
    with ExitStack() as running:

        def begin(trail: Path, **settings: Any) -> Served:
            chosen = ServerSettings(trail=trail, **({"on": ON} | settings))
            return running.enter_context(served(chosen))

        yield begin


@pytest.fixture(scope="session")
def demo_server(built: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """The demo on its day, served to all tests that only look."""
    path = Path(shutil.copy(built, tmp_path_factory.mktemp("looked_at") / "demo.gpkg"))
    with served(ServerSettings(trail=path, on=ON)) as running:
        yield running


@contextmanager
def locked(trail: Path) -> Iterator[None]:
    """Another program holds the write lock, as a desktop GIS with an open edit does."""
    script = (
        "import sqlite3, sys\n"
        "c = sqlite3.connect(sys.argv[1], isolation_level=None)\n"
        "c.execute('BEGIN IMMEDIATE')\nprint('locked', flush=True)\nsys.stdin.read()\n"
    )
    process = subprocess.Popen(
        [sys.executable, "-c", script, str(trail)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    assert process.stdout.readline() == "locked\n"
    try:
        yield
    finally:
        process.communicate(timeout=20)
