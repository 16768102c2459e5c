"""The first page of an empty trail leads to its first boxes."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
import shapely
from fastapi.testclient import TestClient
from playwright.sync_api import Browser, expect

from layers.trail.settings import Settings
from layers.trail.store import Trail
from server.app import create_app
from server.command import COMMANDS
from server.settings import ServerSettings
from tests.server.conftest import HOST, ON, Serve
from tests.server.small_trail import make_trail


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[tuple[TestClient, Path]]:
    path = tmp_path / "mill.gpkg"
    Trail.create(path, Settings("Mill <b>Wood</b>", "Europe/Berlin")).close()
    app = create_app(ServerSettings(trail=path, on=ON))
    with TestClient(app, base_url=HOST) as client:
        yield client, path


def test_an_empty_trail_leads_and_the_first_box_brings_the_map(
    empty: tuple[TestClient, Path],
) -> None:
    client, path = empty
    page = client.get("/").text
    assert "Mill &lt;b&gt;Wood&lt;/b&gt; is ready for its first boxes" in page
    assert "leaflet" not in page
    assert page.count('<summary class="button">') == 4
    commands = set(re.findall(r"boxround (\w+)", page))
    assert commands == {"add", "invite", "demo"}
    assert commands <= set(COMMANDS)
    assert "boxround add boxes FILE mill.gpkg" in page
    for address in re.findall(r'href="(/[a-z]*)"', page):
        assert client.get(address).status_code == 200, address
    with Trail.open(path) as trail:
        trail.add_rows("boxes", [{"box": "A1", "geometry": shapely.Point(13.0, 52.0)}])
    assert "leaflet" in client.get("/").text


def test_paths_without_a_box_are_a_map_that_says_what_to_bring(
    tmp_path: Path, serve: Serve, browser: Browser
) -> None:
    page = browser.new_page(viewport={"width": 390, "height": 844})
    complaints: list[str] = []
    page.on("console", lambda message: complaints.append(message.text))
    page.goto(serve(make_trail(tmp_path / "lane.gpkg", boxes={})).address)
    expect(page.locator(".no-boxes")).to_contain_text("boxround add boxes FILE")
    page.wait_for_load_state("networkidle")
    expect(page.locator("#card")).to_be_hidden()
    assert complaints == []
    page.close()
