"""What every test may use: versions in the header, and a real browser."""

from __future__ import annotations

import datetime as dt
import os
import shutil
import sqlite3
from collections.abc import Iterator

import pyogrio
import pyproj
import pytest
import shapely
from playwright.sync_api import Browser, sync_playwright

from layers.nesting.due import due
from layers.trail.settings import Settings
from tests.nesting.notebook import BLUEBIRD, read, seen

CHROMIUM = shutil.which("chromium") or "/usr/bin/chromium"


def pytest_report_header() -> str:
    gdal = ".".join(str(part) for part in pyogrio.__gdal_version__)
    return (
        f"GDAL {gdal}, GEOS {shapely.geos_version_string}, PROJ {pyproj.proj_version_str}, "
        f"SQLite {sqlite3.sqlite_version}"
    )


def _compile() -> None:
    """Compile what pages wait for: on a new machine it takes longer than a browser does."""
    eggs = read(seen("05-01", species=BLUEBIRD, nest="lined", eggs=4))
    due(eggs, on=dt.date(2026, 5, 10), settings=Settings("Alderbeck", "America/New_York"))


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Headless Chromium; a machine of ours must have it, another may do without."""
    if not os.access(CHROMIUM, os.X_OK):
        if os.environ.get("CI"):
            raise FileNotFoundError(f"Expected Chromium at {CHROMIUM}")
        pytest.skip(f"no Chromium at {CHROMIUM}: browser tests left out")
    _compile()
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(
            executable_path=CHROMIUM,
            args=["--no-sandbox", "--disable-background-networking"],
        )
        yield started
        started.close()
