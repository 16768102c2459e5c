"""What every test may use: versions in the header, marks by what a test needs, a real browser."""

from __future__ import annotations

import os
import shutil
import sqlite3
import sys
from collections.abc import Iterator

import pyogrio
import pyproj
import pytest
import shapely
from hypothesis import HealthCheck, settings
from playwright.sync_api import Browser, expect, sync_playwright

from server.live.prepare import prepare

# Hundreds of processes are started, each of many modules: they are to find them compiled.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False

# A busy machine draws a page in seconds; what never comes still fails.
expect.set_options(timeout=20_000)
settings.register_profile(
    "any machine", deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("any machine")

CHROMIUM = shutil.which("chromium") or "/usr/bin/chromium"


def pytest_report_header() -> str:
    gdal = ".".join(str(part) for part in pyogrio.__gdal_version__)
    return (
        f"GDAL {gdal}, GEOS {shapely.geos_version_string}, PROJ {pyproj.proj_version_str}, "
        f"SQLite {sqlite3.sqlite_version}"
    )


def pytest_configure(config: pytest.Config) -> None:
    """Compile ahead, once, before parallel workers begin and before a browser waits for it."""
    if not hasattr(config, "workerinput") and not config.option.collectonly:
        prepare(lambda text: print(text, file=sys.stderr, flush=True))


NEEDS = {
    "browser": {"browser"},
    "server": {"start", "serve", "demo_server", "client", "team", "trail_path", "built"},
}
"""Mark -> fixtures whose users get it."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark tests by the fixtures that they use and, for `server`, by their folder; what is long
    may take half an hour, or what it says itself.
    """
    for item in items:
        fixtures = set(getattr(item, "fixturenames", ()))
        for mark, needed in NEEDS.items():
            if fixtures & needed:
                item.add_marker(mark)
        if "/tests/server/" in item.path.as_posix():
            item.add_marker("server")
        if item.get_closest_marker("long") and not item.get_closest_marker("timeout"):
            item.add_marker(pytest.mark.timeout(1800))


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Headless Chromium; a machine of ours must have it, another may do without."""
    if not os.access(CHROMIUM, os.X_OK):
        if os.environ.get("CI"):
            raise FileNotFoundError(f"Expected Chromium at {CHROMIUM}")
        pytest.skip(f"no Chromium at {CHROMIUM}: browser tests left out")
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(
            executable_path=CHROMIUM,
            args=["--no-sandbox", "--disable-background-networking"],
        )
        yield started
        started.close()
