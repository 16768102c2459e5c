"""The winter list as a command, a call and a page."""

import json
import uuid
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from fastapi.testclient import TestClient
from playwright.sync_api import Browser, ViewportSize

from layers.trail.settings import Settings
from layers.trail.store import Trail
from server.command import main
from tests.server.conftest import Serve

AFTER = "2026-11-20"
WIDE = ViewportSize(width=1280, height=800)
PHONE = ViewportSize(width=390, height=844)


def test_the_command_the_call_and_the_page_give_the_same(
    client: TestClient, trail_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    called = client.get("/api/winter", params={"on": AFTER}).json()
    assert main(["winter", str(trail_path), "--on", AFTER, "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == called
    page = client.get("/winter", params={"on": AFTER}).text
    assert main(["winter", str(trail_path), "--on", AFTER]) == 0
    printed = capsys.readouterr().out
    assert len(called["to_do"]) >= 5
    for box in called["to_do"]:
        assert f">Box {box['box']}</a>" in page
        for job in box["jobs"]:
            assert job["why"] in page
            assert job["why"] in printed
    assert called["unused"]
    for box in called["unused"]:
        for why in box["likely"]:
            assert why["why"] in page
            assert why["why"] in printed


def test_boxes_come_in_the_order_of_the_walk(
    client: TestClient, trail_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    called = client.get("/api/winter", params={"on": AFTER}).json()
    order = [box["box"] for box in called["to_do"]]
    command = ["walk", str(trail_path), "--on", AFTER, "--json", "--boxes", *order]
    assert main(command) == 0
    walked = json.loads(capsys.readouterr().out)
    assert order == [box for stop in walked["stops"] for box in stop["box"].split(" and ")]
    assert order != sorted(order)
    assert called["order"].startswith("In the order of a walk from ")


def test_without_a_start_boxes_come_by_their_id(tmp_path: Path) -> None:
    path = tmp_path / "bare.gpkg"
    with Trail.create(path, Settings("Alderbeck", "America/New_York")) as trail:
        trail.add_rows("boxes", [{"box": box} for box in ("B2", "B1")])
    with Trail.open(path) as trail:
        assert trail.box_ids() == ["B1", "B2"]
    assert main(["winter", str(path), "--on", AFTER]) == 0


def test_an_empty_trail_is_named_as_such(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "empty.gpkg"
    Trail.create(path, Settings("Alderbeck", "America/New_York")).close()
    assert main(["winter", str(path), "--on", AFTER]) == 0
    assert "The trail had no box on" in capsys.readouterr().out


def test_in_the_season_boxes_with_nests_are_left_alone(client: TestClient) -> None:
    called = client.get("/api/winter", params={"on": "2026-06-03"}).json()
    boxes = [feature["properties"] for feature in client.get("/api/boxes").json()["features"]]
    in_use = {box["box"] for box in boxes if box["occupancy"] == "in use"}
    assert len(in_use) > 10
    assert in_use <= set(called["waiting"])
    assert not in_use & {box["box"] for box in called["to_do"]}


def test_notes_are_text_and_a_corrected_one_is_gone(client: TestClient) -> None:
    box = client.get("/api/winter").json()["to_do"][0]["box"]
    visit = {"box": box, "date": "2026-06-03", "observer": "Maren"}
    first = visit | {"visit_id": str(uuid.uuid4()), "note": "<script>x</script>"}
    assert client.post("/api/visits", json=first).status_code == 201
    assert "&lt;script&gt;x" in client.get("/winter").text
    again = visit | {"visit_id": str(uuid.uuid4()), "note": "Lid", "replaces": first["visit_id"]}
    assert client.post("/api/visits", json=again).status_code == 201
    page = client.get("/winter").text
    assert "Newest note: Lid<" in page
    assert "script&gt;x" not in page


@pytest.mark.parametrize("size", [WIDE, PHONE])
def test_the_page_is_sound_at_two_widths(
    trail_path: Path, serve: Serve, browser: Browser, size: ViewportSize
) -> None:
    page = browser.new_page(viewport=size)
    page.goto(f"{serve(trail_path, on=None).address}/winter?on={AFTER}")
    assert Axe().run(page).violations_count == 0
    assert page.evaluate("document.documentElement.scrollWidth") <= size["width"]
    page.close()
