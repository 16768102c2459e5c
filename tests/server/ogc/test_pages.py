"""The service's pages for people, and what it does with hostile text and with a large trail."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from axe_playwright_python.sync_playwright import Axe
from fastapi.testclient import TestClient
from playwright.sync_api import Browser

from layers.publishing.identifiers import Identifiers
from layers.trail.store import Trail
from server.live.contents import Contents
from server.ogc.team import TeamSource
from tests.server.conftest import HOST, ON
from tests.server.ogc.doors import HTML, Door
from tests.server.serving import Served

HOSTILE = "<script>window.broken = 1</script><b onclick='x'>\"&"
WIDE, PHONE = {"width": 1280, "height": 800}, {"width": 390, "height": 844}
PATHS = (
    "",
    "/api",
    "/conformance",
    "/collections",
    "/collections/visits",
    "/collections/boxes/items",
    "/collections/boxes/items/M05",
)
PUBLIC_PATHS = (*PATHS[:4], "/collections/cells", "/collections/cells/items")


@pytest.mark.parametrize("size", [WIDE, PHONE])
@pytest.mark.parametrize("root", ["/ogc", "/open/ogc"])
def test_every_page_is_free_of_faults_that_axe_finds_and_no_wider_than_the_screen(
    demo_server: Served, browser: Browser, size: Any, root: str
) -> None:
    page = browser.new_page(viewport=size)
    said: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    paths = PATHS if root == "/ogc" else PUBLIC_PATHS
    for path in paths:
        page.goto(f"{demo_server.address}{root}{path}?f=html")
        found = Axe().run(page)
        assert found.violations_count == 0, f"{path}: {found.generate_report()}"
        width = page.evaluate("document.documentElement.scrollWidth")
        assert width <= size["width"], path
    assert said == []
    page.close()


def test_a_person_walks_from_the_landing_page_to_one_box(
    demo_server: Served, browser: Browser
) -> None:
    page = browser.new_page()
    page.goto(f"{demo_server.address}/ogc")
    for name in ("Boxes", "Show 60 boxes", "M05"):
        page.get_by_role("link", name=name, exact=True).click()
    assert "Boxes: M05" in page.get_by_role("heading", level=1).inner_text()
    page.close()


def test_hostile_text_is_shown_and_not_run(client: TestClient, trail_path: Path) -> None:
    odd = f"A/1 {HOSTILE}?#%"
    with Trail.open(trail_path) as trail:
        trail.add_rows(
            "boxes",
            [
                {
                    "box": odd,
                    "name": HOSTILE,
                    "note": HOSTILE,
                    "geometry": shapely.Point(-77.9, 42.6),
                }
            ],
        )
        trail.add_rows("visits", [{"box": odd, "seen_on": "2026-05-01", "note": HOSTILE}])
        trail.add_rows("zones", [{"name": HOSTILE, "kind": "habitat"}])
        trail.change_settings(name=HOSTILE)
    door = Door(client, f"{HOST}/ogc")
    (box,) = door.features("boxes", box=odd)
    assert box["properties"]["note"] == HOSTILE
    for name in ("boxes", "visits", "zones"):
        shown = door.get(f"/collections/{name}/items", f="html", limit=10_000)
        assert HOSTILE not in shown.text
        assert "&lt;script&gt;" in shown.text
    for path in ("", "/api", "/collections"):
        shown = door.get(path, f="html").text
        assert "<script>window" not in shown
        assert "&lt;script&gt;" in shown


def test_a_feature_whose_id_holds_any_sign_is_found_by_its_own_link(
    client: TestClient, trail_path: Path
) -> None:
    for odd in ("A/1", "a b?c#d", "50%", "巣箱", "a//b", "+1;2"):
        with Trail.open(trail_path) as trail:
            trail.add_rows("boxes", [{"box": odd}])
        door = Door(client, f"{HOST}/ogc")
        shown = door.get("/collections/boxes/items", f="html", box=odd).text
        start = shown.index('<th scope="row"><a href="') + len('<th scope="row"><a href="')
        address = shown[start : shown.index('"', start)]
        assert door.told(address, accept=None, f="json")["id"] == odd


def test_corrected_visits_are_left_out_and_late_ones_come_last(
    client: TestClient, trail_path: Path
) -> None:
    door = Door(client, f"{HOST}/ogc")
    before = [one["id"] for one in door.features("visits", limit=1000)]
    with Trail.open(trail_path) as trail:
        box = trail.visit(before[0])["box"]
        corrected = {"visit_id": "new-1", "box": box, "seen_on": "2023-03-15"}
        trail.add_rows("visits", [corrected | {"replaces": before[0]}])
    after = [one["id"] for one in door.features("visits", limit=1000)]
    assert after == [*before[1:], "new-1"]
    assert door.get(f"/collections/visits/items/{before[0]}").status_code == 404


def test_nests_are_those_of_the_api(client: TestClient) -> None:
    told = client.get("/api/nests").json()
    found = [one["properties"] for one in Door(client, f"{HOST}/ogc").features("nests", limit=50)]
    key = ("box", "season", "attempt", "species", "fate", "eggs_max", "first_seen")
    assert [[nest[name] for name in key] for nest in told] == [
        [nest[name] for name in key] for nest in found
    ]
    assert found[0]["reasons"] == " ".join(told[0]["reasons"])


@pytest.mark.parametrize("many", ["9" * 5000, "٣"])
@pytest.mark.parametrize(
    "item", ["nests/items/M01-2026-{}", "nests/items/M01-{}-1", "paths/items/{}"]
)
def test_a_number_that_no_feature_has_finds_nothing(
    client: TestClient, item: str, many: str
) -> None:
    assert client.get(f"/ogc/collections/{item.format(many)}").status_code == 404


def test_columns_choose_features(client: TestClient) -> None:
    door = Door(client, f"{HOST}/ogc")
    visits = door.features("visits", limit=10_000)
    for asked in (
        {"observer": visits[0]["properties"]["observer"]},
        {"eggs": 5},
        {"eggs": 0, "nest": "shaped cup"},
        {"young_days": "12.0"},
        {"box": "no such box"},
    ):
        expected = [
            one["id"]
            for one in visits
            if all(
                one["properties"][name] == (12 if value == "12.0" else value)
                for name, value in asked.items()
            )
        ]
        found = [one["id"] for one in door.features("visits", limit=10_000, **asked)]
        assert found == expected
    assert door.get("/collections/visits/items", eggs="many").status_code == 400
    assert door.told("/collections/visits/items", eggs="-1")["numberMatched"] == 0
    failed = door.features("nests", fate="failed", season=2025, limit=1000)
    assert {one["properties"]["season"] for one in failed} == {2025}


def test_a_page_reads_no_more_rows_of_the_file_than_it_shows(trail_path: Path) -> None:
    with Trail.open(trail_path) as trail:
        contents = Contents.read(trail)
        read: list[int] = []

        def rows(sql: str, values: Sequence[Any]) -> list[tuple[Any, ...]]:
            found = trail.rows(sql, values)
            read.append(len(found))
            return found

        identifiers = Identifiers(trail.identity(), trail.first_entries)
        source = TeamSource(contents, on=ON, rows=rows, identifiers=identifiers)
        visits = source.collection("visits")
        chosen = visits.chosen(bbox=(-77.91, 42.59, -77.89, 42.61), where={"opened": "yes"})
        assert read == []
        assert len(visits.read(chosen[-7:])) == 7
        assert read == [7]
        assert len(visits) == len(trail.visit_rows())
        assert np.all(np.diff(chosen) > 0)


def test_the_state_of_boxes_is_of_the_day_that_the_server_shows(client: TestClient) -> None:
    found = Door(client, f"{HOST}/ogc").features("boxes", limit=100)
    told = client.get("/api/boxes").json()["features"]
    for one, other in zip(found, told, strict=True):
        for name in ("occupancy", "species", "fate", "days_since_visit"):
            assert one["properties"][name] == other["properties"][name]
    assert dt.date(2026, 6, 3) == ON


def test_a_refusal_comes_in_the_form_that_suits_the_reader(client: TestClient) -> None:
    door = Door(client, f"{HOST}/ogc")
    page = door.get("/collections/boxes/items", accept=HTML, limit="0")
    assert page.status_code == 400
    assert "a whole number, 1 or more" in page.text
    assert page.headers["content-type"].startswith(HTML)
    problem = door.get("/collections/boxes/items", limit="0")
    assert problem.json()["faults"][0]["column"] == "limit"
