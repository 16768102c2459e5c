"""The round as JSON, GPX and GeoJSON, and a server that stays quick meanwhile."""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager

import gpxpy
import pytest
from fastapi.testclient import TestClient

from server.live.contents import Contents
from server.rounds import api as api_round
from server.rounds.api import RoundShape
from server.rounds.planning import Planned, planned_once
from server.rounds.request import RoundRequest
from server.settings import MAX_PLANNING

ASKED = "set=boxes&boxes=P01,P02"


def test_the_answer_is_what_the_document_says(client: TestClient) -> None:
    told = client.get("/api/round?set=all&walkers=2").json()
    shape = RoundShape.model_validate(told)
    assert shape.model_dump(by_alias=True, mode="json") == told
    assert "application/gpx+xml" in json.dumps(
        client.get("/openapi.json").json()["paths"]["/api/round"]["get"]["responses"]["200"]
    )


def test_nothing_asked_is_the_round_of_today_s_due_list(client: TestClient) -> None:
    told = client.get("/api/round").json()
    assert (told["on"], told["set"], told["from"]) == ("2026-06-03", "due", "Car park")
    assert told == client.get("/api/round?set=due&minutes=&from=&to=").json()


def test_a_gpx_is_sent_under_its_media_type_and_a_name(client: TestClient) -> None:
    answer = client.get(f"/api/round?{ASKED}&format=gpx")
    assert answer.headers["content-type"] == "application/gpx+xml"
    assert answer.headers["content-disposition"] == 'attachment; filename="round-2026-06-03.gpx"'
    names = [point.name or "" for point in gpxpy.parse(answer.text).waypoints]
    assert names[0] == "Car park"
    assert sorted(name[3:] for name in names[1:]) == ["P01", "P02"]


def test_a_geojson_is_sent_under_its_media_type_and_a_name(client: TestClient) -> None:
    answer = client.get(f"/api/round?{ASKED}&format=geojson")
    assert answer.headers["content-type"] == "application/geo+json"
    assert 'filename="round-2026-06-03.geojson"' in answer.headers["content-disposition"]
    kinds = [feature["geometry"]["type"] for feature in answer.json()["features"]]
    assert sorted(kinds) == ["LineString"] * 3 + ["Point"] * 2


def test_an_answer_may_be_kept_until_the_trail_changes(client: TestClient) -> None:
    first = client.get(f"/api/round?{ASKED}")
    again = client.get(f"/api/round?{ASKED}", headers={"If-None-Match": first.headers["etag"]})
    assert again.status_code == 304
    visit = {"box": "P01", "date": "2026-06-03", "nest": "none"}
    assert client.post("/api/visits", json=visit).status_code == 201
    after = client.get(f"/api/round?{ASKED}", headers={"If-None-Match": first.headers["etag"]})
    assert after.status_code == 200


@pytest.mark.parametrize(
    ("query", "status", "said"),
    [
        ("set=some", 422, "'due', 'all', 'section' or 'boxes'"),
        ("set=boxes", 422, "the id of at least one box"),
        ("set=boxes&boxes=M1", 404, "the id of a box (nearest: M15, M14, M13), got 'M1'"),
        ("set=section&section=pond medow", 404, "(nearest: Pond Meadow)"),
        ("from=moon", 404, "a place of the trail"),
        ("minutes=0", 422, "greater than 0"),
        ("minutes=nan", 422, "minutes"),
        ("walkers=0", 422, "greater than or equal to 1"),
        ("walkers=21", 422, "less than or equal to 20"),
        ("pace=naismit", 422, "(nearest: naismith)"),
        ("pace=0.1", 422, "a walking speed from 0.5 to 15 km/h"),
        ("leave=25:00", 422, "a time of day like 08:30"),
        ("on=yesterday", 422, "a date like"),
        ("format=kml", 422, "'json', 'gpx' or 'geojson'"),
        ("speed=5", 422, "only names that this address takes"),
    ],
)
def test_what_is_asked_wrongly_is_a_problem_in_a_sentence(
    client: TestClient, query: str, status: int, said: str
) -> None:
    answer = client.get(f"/api/round?{query}")
    assert answer.status_code == status
    assert answer.headers["content-type"] == "application/problem+json"
    assert said in answer.json()["detail"]


@contextmanager
def held_up(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[RoundRequest]]:
    """Plans that wait until the block ends; gives those that are under way."""
    go_on, under_way = threading.Event(), list[RoundRequest]()

    def waiting(contents: Contents, wanted: RoundRequest) -> Planned:
        under_way.append(wanted)
        assert go_on.wait(60)
        return planned_once(contents, wanted)

    monkeypatch.setattr(api_round, "planned_once", waiting)
    try:
        yield under_way
    finally:
        go_on.set()


def test_many_plans_at_once_starve_nobody(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = [f"/api/round?{ASKED}&leave=07:{minute:02d}" for minute in range(50)]
    with ThreadPoolExecutor(len(asked)) as people:
        with held_up(monkeypatch) as under_way:
            answers = [people.submit(client.get, address) for address in asked]
            while len(under_way) < MAX_PLANNING:
                assert not any(answer.done() for answer in answers)
            assert client.get("/health").status_code == 200
            assert client.get("/list").status_code == 200
            assert len(under_way) == MAX_PLANNING
        assert {answer.result(60).status_code for answer in answers} == {200}


def test_a_round_planned_again_stays_near_the_order_of_the_one_before(client: TestClient) -> None:
    query = "/api/round?set=boxes&boxes=M01,M02,M03,M04,M05,M06"
    anew = client.get(query).json()
    assert anew["order_costs_m"] is None
    turned = [stop["box"] for stop in anew["stops"]][::-1]
    again = client.get(f"{query}&like={','.join(turned)}").json()
    assert [stop["box"] for stop in again["stops"]] == turned
    assert again["order_costs_m"] == pytest.approx(again["length_m"] - anew["length_m"], abs=0.2)
    page = client.get(f"/round?set=boxes&boxes=M01,M02,M03,M04,M05,M06&like={','.join(turned)}")
    assert "The order is that of the round before:" in page.text
