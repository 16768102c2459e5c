"""The map served, and opened in a real browser, wide and narrow."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser

from tests.maps.serving import served
from tests.maps.watched import Watched

SIZES = [(1280, 800), (390, 844)]


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    with served() as found:
        yield found


@pytest.fixture(params=SIZES, ids=["wide", "phone"])
def watched(request: pytest.FixtureRequest, browser: Browser, address: str) -> Iterator[Watched]:
    width, height = request.param
    context = browser.new_context(viewport={"width": width, "height": height})
    seen = Watched(context.new_page(), address)
    yield seen
    assert seen.complaints == []
    assert all(url.startswith((address, "data:", "blob:")) for url in seen.requests)
    assert seen.page.evaluate("window.broken") is None
    context.close()
