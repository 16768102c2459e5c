"""Two trails of a folder in one browser: each with its map, field page and storage."""

from __future__ import annotations

import shutil
from datetime import UTC, datetime
from pathlib import Path

import pytest
from playwright.sync_api import Browser, ConsoleMessage, Request, expect

from server.web.authentication.roles import Role
from server.web.authentication.store import People
from tests.server.conftest import Serve
from tests.server.team import make_team

CACHES = "caches.keys()"
STORES = "indexedDB.databases().then((all) => all.map((one) => one.name).sort())"


def link(trail: Path, name: str) -> str:
    make_team(trail)
    with People.open(trail) as people:
        return people.invite(name, role=Role.WALKER, now=datetime.now(UTC), days=3).token


@pytest.mark.browser
def test_a_browser_signed_in_to_two_trails_keeps_them_apart(
    few_boxes: Path, tmp_path: Path, serve: Serve, browser: Browser
) -> None:
    folder = tmp_path / "region"
    folder.mkdir()
    links = {}
    for name in ("alder", "birch"):
        path = Path(shutil.copy(few_boxes, folder / f"{name}.gpkg"))
        links[name] = link(path, f"{name.title()} Linnet")
    address = serve(folder).address
    context = browser.new_context()
    page = context.new_page()
    page.set_default_timeout(60_000)
    outside: list[str] = []
    trouble: list[str] = []

    def watch(request: Request) -> None:
        path = request.url.removeprefix(address)
        if not path.startswith(("/t/", "/static/", "/start", "data:", "blob:")):
            outside.append(path)

    def note(message: ConsoleMessage) -> None:
        if message.type == "error":
            trouble.append(message.text)

    page.on("request", watch)
    page.on("console", note)
    for name, token in links.items():
        page.goto(f"{address}/t/{name}/sign-in#{token}")
        page.get_by_role("button", name="Sign in").click()
        page.wait_for_selector(".leaflet-container")
        page.wait_for_function("document.querySelector('[data-box], .leaflet-interactive, canvas')")
        assert page.url.startswith(f"{address}/t/{name}/")
        page.goto(f"{address}/t/{name}/field")
        expect(page.get_by_text("boxes, as of")).to_be_visible()
        page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    kept = page.evaluate(CACHES)
    assert [sum(f"/t/{name} " in one for one in kept) for name in links] == [1, 1], kept
    assert page.evaluate(STORES) == ["boxround field /t/alder", "boxround field /t/birch"]
    assert (outside, trouble) == ([], [])
    # Without a network each opens by itself.
    context.set_offline(True)
    for name in links:
        page.goto(f"{address}/t/{name}/field")
        expect(page.get_by_text("boxes, as of")).to_be_visible()
    context.set_offline(False)
    page.goto(f"{address}/start")
    rows = page.get_by_role("row")
    expect(rows).to_have_count(3)
    assert outside == []
    for width in (1280, 390):
        page.set_viewport_size({"width": width, "height": 700})
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        page.screenshot(path=tmp_path / f"start-{width}.png")
    # Access to one ends: this device forgets what is of it, and nothing of the other.
    with People.open(folder / "birch.gpkg") as people:
        people.revoke("Birch Linnet", now=datetime.now(UTC))
    page.goto(f"{address}/t/birch/list")
    expect(page.get_by_role("heading", name="Your access has ended")).to_be_visible()
    page.wait_for_function(f"{CACHES}.then((all) => all.length === 1)")
    assert [name for name in page.evaluate(CACHES) if "/t/alder " in name]
    page.goto(f"{address}/t/alder/field")
    expect(page.get_by_text("boxes, as of")).to_be_visible()
    context.close()
