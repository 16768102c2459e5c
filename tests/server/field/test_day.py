"""The day that the field page holds: what it says of each box, and what the page is made of."""

from __future__ import annotations

import datetime as dt
import gzip
import json
from typing import Any

import pytest
from fastapi.testclient import TestClient

from layers.trail.schema import VISITS
from server.field.page import shell_files
from tests.server.conftest import ON
from tests.server.team import TeamClient

KILOBYTES = 1000


def boxes_of(client: TestClient, on: dt.date = ON) -> dict[str, dict[str, Any]]:
    day = client.get(f"/field/day?on={on}").json()
    assert day["on"] == str(on)
    return {one["box"]: one for one in day["boxes"]}


def test_every_box_that_stands_is_there_with_its_last_visit(client: TestClient) -> None:
    boxes = boxes_of(client)
    due = {one["box"]: one for one in client.get("/api/due?everything=true").json()}
    assert boxes.keys() == due.keys()
    for box, one in boxes.items():
        assert one["expected"] == due[box]["expected"]
        assert one["approach"] == due[box]["approach"]
        visits = client.get(f"/api/boxes/{box}").json()["visits"]
        if visits:
            assert one["last"]["date"] == visits[0]["date"]
            assert one["last"]["text"] == visits[0]["inside"] or not visits[0]["inside"]


def test_closed_days_are_told_before_and_on_them_and_not_after(client: TestClient) -> None:
    forecast = client.get(f"/api/boxes/M14?on={ON}").json()["attempts"][-1]["forecast"]
    closed = boxes_of(client)["M14"]["closed"]
    assert any(f"Leave the box closed {closed}:" in one["text"] for one in forecast)
    on_them = boxes_of(client, dt.date(2026, 6, 25))["M14"]
    assert on_them["approach"] != "open"
    assert on_them["cautions"] == []
    assert boxes_of(client, dt.date(2026, 7, 5))["M14"]["closed"] is None


def test_the_form_has_every_column_that_is_declared(client: TestClient) -> None:
    day = client.get("/field/day").json()
    first = {"box", "date", "time", "observer", "species", "eggs", "young", "young_days"}
    declared = {field.entry_name for field in VISITS.fields if not field.automatic}
    assert {field["name"] for field in day["fields"]} | first == declared


def test_a_visit_of_today_is_told_to_who_comes_second(client: TestClient) -> None:
    seen = {"box": "M14", "date": str(ON), "time": "08:40", "eggs": 5, "observer": "Robin"}
    assert client.post("/api/visits", json=seen).status_code == 201
    (today,) = boxes_of(client)["M14"]["today"]
    assert (today["observer"], today["time"], today["text"]) == ("Robin", "08:40", "5 eggs")


def compressed(client: TestClient, *bodies: bytes) -> int:
    """Bytes of the page with its map and its key, and of more bodies, as they are sent."""
    addresses = ("/field", *shell_files(), "/field/key", "/map/ground")
    every = [*(client.get(address).content for address in addresses), *bodies]
    return sum(len(gzip.compress(body, 6)) for body in every)


def test_the_page_weighs_little(client: TestClient) -> None:
    assert compressed(client, client.get("/field/day").content) < 250 * KILOBYTES


def test_the_key_holds_the_species_of_the_region_with_their_drawings(client: TestClient) -> None:
    key = client.get(f"/field/key?on={ON}").json()
    names = {one["name"] for one in key["species"]}
    answer = client.get(f"/api/key?on={ON}&material=grass&ground=blue&marks=plain").json()
    assert {one["species"] for one in answer["candidates"]} <= names
    assert all(one["drawing"].startswith("<svg") for one in key["species"])
    assert any(one["nests"] for one in key["species"])


def test_a_thousand_boxes_stay_below_their_limit(client: TestClient) -> None:
    day = client.get("/field/day").json()
    boxes = [one | {"box": f"{one['box']}-{copy}"} for copy in range(18) for one in day["boxes"]]
    assert len(boxes) > 1000
    # Other places and figures, so that nothing is packed as a repetition.
    varied = [
        one | {"lat": one["lat"] + i / 7919, "lon": one["lon"] - i / 7907}
        for i, one in enumerate(boxes)
        if one["lat"] is not None
    ]
    body = json.dumps(day | {"boxes": varied}).encode()
    assert compressed(client, body) < 1500 * KILOBYTES


def test_the_worker_keeps_every_file_and_changes_with_any(client: TestClient) -> None:
    text = client.get("/field/worker.js").text
    shell = json.loads(text.splitlines()[0].removeprefix("self.SHELL = ").rstrip(";"))
    assert "/field/page.js" in shell["files"]
    assert "/static/rounds/round_map.js" in shell["files"]
    for address in shell["files"]:
        assert client.get(address).status_code == 200, address
    assert shell["version"] in client.get("/field/worker.js").text


def test_the_page_knows_who_walks(team: TeamClient) -> None:
    for name in ("Robin", "Wren"):
        told = team.client.get("/field/walker", headers=team.sent_by(name))
        assert told.json() == {"name": name, "fixed_on": str(ON)}
        assert told.headers["cache-control"] == "no-store"


@pytest.mark.parametrize(
    "address", ["/field/day", "/field/key", "/field/page.js", "/field/walker", "/field/worker.js"]
)
def test_a_question_that_is_not_known_is_refused(client: TestClient, address: str) -> None:
    assert client.get(f"{address}?no=1").status_code == 422
