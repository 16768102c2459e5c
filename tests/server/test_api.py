"""The JSON calls: what they give, what they refuse, and that each is documented."""

from __future__ import annotations

import uuid
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from pydantic import TypeAdapter
from pyproj import Geod
from shapely import Point

from layers.trail.schema import VisitRow
from layers.trail.store import Trail
from server.web.shapes import BoxCollection, Card, Health, Near, Nest, VisitList
from tests.server.conftest import locked

VISIT = {"box": "M05", "date": "2026-06-02", "time": "09:30", "eggs": 0, "signs": "wet; cold"}


def fresh(**more: object) -> dict[str, object]:
    return VISIT | {"visit_id": str(uuid.uuid4())} | more


def test_boxes_come_as_geojson_with_what_they_are(client: TestClient) -> None:
    answer = client.get("/api/boxes")
    assert answer.headers["content-type"] == "application/geo+json"
    found = BoxCollection.model_validate(answer.json())
    assert len(found.features) == 60
    assert found.on == "2026-06-03"
    assert {feature.properties["occupancy"] for feature in found.features} >= {"in use", "finished"}


def test_another_day_and_what_was_known_then(client: TestClient) -> None:
    early = client.get("/api/boxes", params={"on": "2026-01-02"}).json()["features"]
    assert {box["properties"]["occupancy"] for box in early} == {"not checked", "out of service"}
    later = client.get("/api/boxes", params={"on": "2026-05-20"}).json()["features"]
    assert "in use" in {box["properties"]["occupancy"] for box in later}


def test_one_box_comes_as_its_card(client: TestClient) -> None:
    card = Card.model_validate(client.get("/api/boxes/M05").json())
    assert (card.box, card.section) == ("M05", "Mill Wood")
    assert card.attempts[-1].reasons
    assert card.visits[0].date > card.visits[-1].date


def test_nests_can_be_picked(client: TestClient) -> None:
    every = [Nest.model_validate(nest) for nest in client.get("/api/nests").json()]
    assert {nest.season for nest in every} == {2023, 2024, 2025, 2026}
    own = client.get("/api/nests", params={"box": "M05", "season": 2025}).json()
    assert [(nest["box"], nest["season"]) for nest in own] == [("M05", 2025)]


def test_visits_come_page_by_page_each_once(client: TestClient, trail_path: Path) -> None:
    seen: list[str] = []
    address = "/api/visits?box=M05&limit=20"
    while address:
        page = VisitList.model_validate(client.get(address).json())
        seen += [visit["visit_id"] for visit in page.visits]
        assert len(page.visits) <= 20
        address = page.next or ""
    with Trail.open(trail_path) as trail:
        assert sorted(seen) == sorted(row["visit_id"] for row in trail.visit_rows("M05"))


def test_visits_since_a_day_and_with_corrected_rows(client: TestClient) -> None:
    late = client.get("/api/visits", params={"since": "2026-08-01", "limit": 1000}).json()
    assert all(visit["seen_on"] >= "2026-08-01" for visit in late["visits"])
    fewer = client.get("/api/visits", params={"limit": 1000}).json()["visits"]
    assert not {visit["visit_id"] for visit in fewer} & {visit["replaces"] for visit in fewer}


def test_nearest_boxes_are_the_geodesically_nearest(client: TestClient, trail_path: Path) -> None:
    found = [
        Near.model_validate(near)
        for near in client.get("/api/near", params={"lat": 42.6, "lon": -77.9, "k": 4}).json()
    ]
    with Trail.open(trail_path) as trail:
        boxes = trail.boxes()
    geod = Geod(ellps="WGS84")
    distances = sorted(
        (geod.inv(-77.9, 42.6, point.x, point.y)[2], box)
        for box, point in zip(boxes["box"], boxes.geometry, strict=True)
    )
    assert [near.box for near in found] == [box for _, box in distances[:4]]
    assert found[0].distance_m == pytest.approx(distances[0][0], abs=1e-3)
    assert found[0].direction in {"north", "north-east", "east", "south-east"} | {
        "south",
        "south-west",
        "west",
        "north-west",
    }


def test_a_visit_is_saved_before_it_is_acknowledged(client: TestClient, trail_path: Path) -> None:
    answer = client.post("/api/visits", json=fresh())
    assert answer.status_code == 201
    saved = TypeAdapter(VisitRow).validate_python(answer.json())
    with Trail.open(trail_path) as trail:
        assert trail.visit(saved["visit_id"])["eggs"] == 0
    assert saved["seen_at"] == "2026-06-02T13:30:00.000Z"
    assert saved["signs"] == "wet;cold"
    assert saved["young"] is None


def test_the_same_visit_sent_again_is_saved_once(client: TestClient, trail_path: Path) -> None:
    visit = fresh()
    first, again = (client.post("/api/visits", json=visit) for _ in range(2))
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json() == again.json()
    with Trail.open(trail_path) as trail:
        rows = trail.visit_rows("M05")
    assert [row["visit_id"] for row in rows].count(visit["visit_id"]) == 1


def test_the_same_id_with_other_content_is_a_conflict(client: TestClient) -> None:
    visit = fresh()
    client.post("/api/visits", json=visit)
    answer = client.post("/api/visits", json=visit | {"eggs": 3})
    assert answer.status_code == 409
    assert "under which another visit is saved" in answer.json()["detail"]


def test_a_saved_visit_shows_at_the_next_request(client: TestClient) -> None:
    before = client.get("/api/boxes/M05").json()
    client.post("/api/visits", json=fresh(date="2026-06-03", time=None, note="seen just now"))
    after = client.get("/api/boxes/M05").json()
    assert len(after["visits"]) == len(before["visits"]) + 1
    assert "seen just now" in {visit["note"] for visit in after["visits"]}


def test_a_correction_takes_the_place_of_the_visit_it_corrects(client: TestClient) -> None:
    wrong = client.post("/api/visits", json=fresh(eggs=30)).json()["visit_id"]
    right = client.post("/api/visits", json=fresh(eggs=3, replaces=wrong))
    assert right.status_code == 201
    ids = {visit["visit_id"] for visit in client.get("/api/boxes/M05").json()["visits"]}
    assert wrong not in ids
    assert right.json()["visit_id"] in ids
    twice = client.post("/api/visits", json=fresh(eggs=4, replaces=wrong))
    assert twice.status_code == 409
    assert "which" in twice.json()["detail"]


def test_every_fault_of_a_visit_is_named(client: TestClient) -> None:
    answer = client.post(
        "/api/visits",
        json={"box": "Z9", "date": "2030-01-01", "species": "blubird", "eggs": -1, "signs": "moss"},
    )
    assert answer.status_code == 422
    assert answer.headers["content-type"] == "application/problem+json"
    assert {fault["column"] for fault in answer.json()["faults"]} == {
        "box",
        "date",
        "species",
        "eggs",
        "signs",
    }


def test_a_locked_file_gives_503_and_says_when_to_try_again(
    client: TestClient, trail_path: Path
) -> None:
    visit = fresh()
    with locked(trail_path):
        answer = client.post("/api/visits", json=visit)
    assert answer.status_code == 503
    assert int(answer.headers["retry-after"]) > 0
    assert client.post("/api/visits", json=visit).status_code == 201


def test_health_counts(client: TestClient) -> None:
    health = Health.model_validate(client.get("/health").json())
    assert (health.status, health.boxes, health.on) == ("ok", 60, "2026-06-03")


@pytest.mark.parametrize(
    ("address", "status", "message"),
    [
        ("/api/boxes/Z9", 404, "Expected the id of a box, got 'Z9'"),
        ("/api/boxes?on=14/5/2026", 422, "a date like 2026-05-14"),
        ("/api/boxes?day=2026-05-14", 422, "day"),
        ("/api/boxes?on=9999-12-31", 422, "from 1900 to 2999"),
        ("/api/nests?on=20260514", 422, "a date like 2026-05-14"),
        ("/list?on=0001-01-01", 422, "from 1900 to 2999"),
        ("/api/near?lat=95&lon=0", 422, "less than or equal to 90"),
        ("/api/near?lat=42&lon=0&k=0", 422, "greater than or equal to 1"),
        ("/api/near?lon=0", 422, "lat"),
        ("/api/visits?limit=5000", 422, "1000"),
        ("/api/visits?after=nothing", 404, "Expected the id of a visit"),
        ("/api/nothing", 404, "There is nothing at /api/nothing"),
        ("/map/season/1999", 404, "Expected a season with visits, got 1999"),
        ("/map/season/soon", 422, "integer"),
    ],
)
def test_what_is_requested_wrongly_is_answered_in_a_sentence(
    client: TestClient, address: str, status: int, message: str
) -> None:
    answer = client.get(address)
    assert answer.status_code == status
    assert message in answer.text


def test_every_call_is_in_the_openapi_document_with_its_errors(client: TestClient) -> None:
    document = client.get("/openapi.json").json()
    assert set(document["paths"]) == {
        "/api/boxes",
        "/api/boxes/{box}",
        "/api/nests",
        "/api/visits",
        "/api/visits/questions",
        "/api/near",
        "/api/due",
        "/api/key",
        "/api/round",
        "/api/season",
        "/api/week",
        "/api/site",
        "/api/site/room",
        "/api/winter",
        "/due.ics",
        "/week.ics",
        "/health",
    }
    answers = document["paths"]["/api/visits"]["post"]["responses"]
    assert {"201", "200", "409", "422", "503"} <= set(answers)
    assert list(answers["409"]["content"]) == ["application/problem+json"]
    assert list(answers["201"]["content"]) == ["application/json"]


def test_a_box_whose_id_holds_a_slash_has_its_pages(client: TestClient, trail_path: Path) -> None:
    with Trail.open(trail_path) as trail:
        trail.add_rows("boxes", [{"box": "A/1", "geometry": Point(-77.9, 42.6)}])
    assert client.get("/api/boxes/A%2F1").json()["box"] == "A/1"
    assert "Visit to box A/1" in client.get("/boxes/A%2F1/visit").text
    sent = client.post(
        "/boxes/A%2F1/visit", data={"date": "2026-06-01", "opened": "yes"}, follow_redirects=False
    )
    assert sent.headers["location"] == "/boxes/A%2F1?saved=yes"
    assert "Saved" in client.get(sent.headers["location"]).text


def test_a_visit_sent_as_plain_text_is_refused_with_how_to_send_it(client: TestClient) -> None:
    answer = client.post("/api/visits", content=b'{"box": "M05", "date": "2026-06-01"}')
    assert answer.status_code == 422
    assert "a JSON object, sent as application/json" in answer.json()["detail"]


def test_yes_is_no_count(client: TestClient) -> None:
    assert client.post("/api/visits", json=fresh(eggs=True)).status_code == 422


@pytest.mark.parametrize("body", [b"", b"[]", b"{", b"null", b'{"box": {}}', b"\xff\xfe", b"1e999"])
def test_a_body_that_is_no_visit_is_refused(client: TestClient, body: bytes) -> None:
    answer = client.post("/api/visits", content=body, headers={"Content-Type": "application/json"})
    assert answer.status_code == 422
    assert answer.json()["detail"]
