"""A visit that is taken back: a row more, which every reader passes over."""

from __future__ import annotations

import re
import time
import uuid
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from layers.errors import Conflict
from layers.trail.importing import import_file
from layers.trail.store import Trail
from server.web.authentication.store import People
from tests.server.team import TeamClient

SEEN = {"box": "M05", "date": "2026-06-02", "eggs": 17}


def saved(client: TestClient, **more: Any) -> dict[str, Any]:
    answer = client.post("/api/visits", json=SEEN | {"visit_id": str(uuid.uuid4())} | more)
    assert answer.status_code == 201, answer.text
    visit: dict[str, Any] = answer.json()
    return visit


def withdrawal(visit: dict[str, Any], **more: Any) -> dict[str, Any]:
    seen = {"box": visit["box"], "date": visit["seen_on"], "visit_id": str(uuid.uuid4())}
    return seen | {"replaces": visit["visit_id"], "withdraws": "yes"} | more


def faces(client: TestClient) -> list[str]:
    """Every face that shows single visits, without the trail's version."""
    addresses = ("/boxes/M05", "/api/boxes/M05", "/api/visits?box=M05", "/api/nests", "/list")
    return [client.get(address).text for address in addresses]


def test_a_withdrawn_visit_is_as_if_never_made(client: TestClient, trail_path: Path) -> None:
    before = faces(client)
    visit = saved(client)
    with_it = faces(client)
    assert all("17" in face for face in with_it[:3])
    page = client.get(f"/boxes/M05/visit?replaces={visit['visit_id']}").text
    found = re.search(r'name="withdrawal_id" value="([^"]+)"', page)
    assert found is not None
    form = {"withdrawal_id": found[1]}
    # A moment is a whole second: the withdrawal comes in a later one.
    time.sleep(1)
    for _ in range(2):
        answer = client.post(
            f"/visits/{visit['visit_id']}/withdraw", data=form, follow_redirects=False
        )
        assert answer.status_code == 303
    assert "is withdrawn and no longer counts" in client.get(answer.headers["location"]).text
    assert faces(client) == before
    with Trail.open(trail_path) as trail:
        kept = trail.rows("SELECT eggs, withdraws FROM visits ORDER BY fid DESC LIMIT 2")
        assert kept == [(None, "yes"), (17, None)]
        visits = trail.visits("M05")
        entered_s = int(datetime.fromisoformat(visit["entered_at"]).timestamp())
        assert 17 in visits.known_at(entered_s).eggs
        assert 17 not in visits.known_at().eggs
    history = client.get(f"/visits/{visit['visit_id']}/history").text
    assert "2. Withdrawn" in history
    assert "It is withdrawn, and no longer counts." in history
    again = client.get(f"/boxes/M05/visit?replaces={form['withdrawal_id']}").text
    assert 'name="eggs" value="17"' in again
    restored = saved(client, replaces=form["withdrawal_id"])
    assert restored["visit_id"] in client.get("/api/visits?box=M05&since=2026-06-02").text


@pytest.mark.parametrize(
    ("wrong", "status", "message"),
    [
        ({"replaces": None}, 422, "the id of the visit to withdraw"),
        ({"eggs": 3}, 422, "nothing in a row that withdraws a visit"),
        ({"box": "M06"}, 422, "M05"),
        ({"replaces": str(uuid.uuid4())}, 422, "the id of a visit to correct"),
    ],
)
def test_what_withdraws_nothing_is_refused(
    client: TestClient, wrong: dict[str, Any], status: int, message: str
) -> None:
    answer = client.post("/api/visits", json=withdrawal(saved(client)) | wrong)
    assert answer.status_code == status
    assert message in answer.text


def test_a_visit_is_withdrawn_once_and_not_corrected_after(client: TestClient) -> None:
    visit = saved(client)
    assert client.post("/api/visits", json=withdrawal(visit)).status_code == 201
    assert client.post("/api/visits", json=withdrawal(visit)).status_code == 409
    late = SEEN | {"replaces": visit["visit_id"], "eggs": 4}
    assert client.post("/api/visits", json=late).status_code == 409


def test_a_walker_withdraws_their_own_visit_the_same_day(team: TeamClient) -> None:
    def send(who: str, visit: dict[str, Any]) -> Any:
        return team.client.post("/api/visits", json=visit, headers=team.sent_by(who))

    own, old = (send("Robin", SEEN | {"eggs": eggs}).json() for eggs in (3, 4))
    assert send("Dipper", withdrawal(own)).status_code == 403
    assert send("Robin", withdrawal(own)).status_code == 201
    assert send("Wren", withdrawal(old)).status_code == 201
    # One that was entered yesterday.
    entered_at = datetime.now(UTC) - timedelta(days=1)
    yesterday = SEEN | {"visit_id": str(uuid.uuid4()), "entered_at": entered_at}
    yesterday["seen_on"] = yesterday.pop("date")
    with Trail.open(team.trail) as trail, People.open(team.trail) as people:
        robin = next(one.person for one in people.everyone() if one.person.name == "Robin")
        people.enter(str(yesterday["visit_id"]), by=robin, now=entered_at)
        trail.add_rows("visits", [yesterday])
    refused = send("Robin", withdrawal(yesterday))
    assert refused.status_code == 403
    assert "ask a keeper" in refused.json()["detail"]
    assert send("Wren", withdrawal(yesterday)).status_code == 201


def test_the_file_refuses_a_withdrawal_of_nothing(trail_path: Path) -> None:
    row = {"box": "M05", "seen_on": "2026-06-02", "withdraws": "yes"}
    with Trail.open(trail_path) as trail, pytest.raises(Conflict, match="names it in replaces"):
        trail.add_rows("visits", [row])


def test_a_file_of_visits_can_withdraw(trail_path: Path, tmp_path: Path) -> None:
    table = tmp_path / "visits.csv"
    first, second = str(uuid.uuid4()), str(uuid.uuid4())
    table.write_text(
        "visit_id,box,date,eggs,replaces,withdraws\n"
        f"{first},M05,2026-06-02,17,,\n{second},M05,2026-06-02,,{first},yes\n",
        encoding="utf-8",
    )
    for _ in range(2):
        with Trail.open(trail_path) as trail:
            import_file("visits", table, trail, today=date(2026, 6, 3), species=str)
            assert 17 not in trail.visits("M05").known_at().eggs
            assert len(trail.rows("SELECT 1 FROM visits WHERE visit_id = ?", (first,))) == 1


@pytest.mark.parametrize("more", [{}, {"observer": "Robin", "time": "09:30"}])
def test_a_visit_with_nothing_recorded_is_refused(client: TestClient, more: dict[str, str]) -> None:
    blank = {"box": "M05", "date": "2026-06-02"} | more
    answer = client.post("/api/visits", json=blank)
    assert answer.status_code == 422
    assert "could you not look inside?" in answer.text
    form = client.post("/boxes/M05/visit", data=blank)
    assert form.status_code == 422
    assert "could you not look inside?" in form.text
    assert client.post("/api/visits", json=blank | {"opened": "no"}).status_code == 201
