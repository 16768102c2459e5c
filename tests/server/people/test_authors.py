"""Whose hand a visit is: who may correct it, and what is kept of who did what."""

from __future__ import annotations

import threading
import uuid
from datetime import UTC, datetime
from typing import Any

import pytest
from fastapi.testclient import TestClient
from shapely import Point

from layers.trail.store import Trail
from server.web.authentication.author import Author
from server.web.authentication.roles import Role
from server.web.authentication.side_file import people_path
from server.web.authentication.store import People
from tests.server.conftest import locked
from tests.server.team import TeamClient


def send(team: TeamClient, who: str, **more: Any) -> Any:
    seen = {"box": "M05", "date": "2026-06-02", "opened": "yes"}
    visit = {"visit_id": str(uuid.uuid4())} | seen | more
    return team.client.post("/api/visits", json=visit, headers=team.sent_by(who))


def entered(team: TeamClient, who: str, **more: Any) -> str:
    answer = send(team, who, **more)
    assert answer.status_code == 201
    visit_id: str = answer.json()["visit_id"]
    return visit_id


def author(team: TeamClient, visit_id: str) -> str | None:
    with People.open(team.trail) as people:
        entry = people.entries([visit_id]).get(visit_id)
    return None if entry is None else entry.person.name


def test_a_walker_corrects_their_own_visit_and_no_other(team: TeamClient) -> None:
    own, others = entered(team, "Robin", eggs=3), entered(team, "Dipper", eggs=4)
    assert send(team, "Robin", replaces=own, eggs=5).status_code == 201
    answer = send(team, "Robin", replaces=others, eggs=5)
    assert answer.status_code == 403
    assert "A walker corrects their own visits" in answer.json()["detail"]
    form = {"date": "2026-06-02", "replaces": others, "eggs": "1"}
    page = team.client.post("/boxes/M05/visit", data=form, headers=team.sent_by("Robin"))
    assert page.status_code == 403
    with Trail.open(team.trail) as trail:
        assert trail.rows("SELECT 1 FROM visits WHERE replaces = ?", (others,)) == []


def test_a_keeper_corrects_any_visit_and_the_correction_is_then_theirs(team: TeamClient) -> None:
    own = entered(team, "Robin", eggs=3)
    corrected = entered(team, "Wren", replaces=own, eggs=4)
    assert (author(team, own), author(team, corrected)) == ("Robin", "Wren")
    assert send(team, "Robin", replaces=corrected, eggs=3).status_code == 403


def test_a_visit_of_before_the_team_is_no_ones_own(team: TeamClient) -> None:
    card = team.client.get("/api/boxes/M05", headers=team.sent_by("Robin")).json()
    old = card["visits"][0]["visit_id"]
    assert send(team, "Robin", replaces=old).status_code == 403
    assert send(team, "Wren", replaces=old).status_code == 201


def test_sending_anothers_id_makes_a_visit_no_one_elses(team: TeamClient) -> None:
    own = entered(team, "Robin", eggs=3)
    assert send(team, "Dipper", visit_id=own, eggs=3).status_code == 200
    assert send(team, "Dipper", visit_id=own, eggs=9).status_code == 409
    assert author(team, own) == "Robin"
    assert send(team, "Dipper", replaces=own, eggs=2).status_code == 403


def test_someone_revoked_and_invited_again_has_no_old_visits(team: TeamClient) -> None:
    own = entered(team, "Robin")
    with People.open(team.trail) as people:
        people.revoke("Robin", now=datetime.now(UTC))
        people.invite("Robin", role=Role.WALKER, now=datetime.now(UTC))
        key = people.add_key("Robin", kind="program", label="x", now=datetime.now(UTC))
    again = {"box": "M05", "date": "2026-06-02", "eggs": 1, "replaces": own}
    sent = team.client.post("/api/visits", json=again, headers={"Authorization": f"Bearer {key}"})
    assert sent.status_code == 403


def test_a_visit_whose_author_cannot_be_noted_is_not_saved(team: TeamClient) -> None:
    visit_id = str(uuid.uuid4())
    team.client.get("/list", headers=team.sent_by("Robin"))
    with locked(people_path(team.trail)):
        answer = send(team, "Robin", visit_id=visit_id)
    assert answer.status_code == 503
    assert answer.headers["retry-after"]
    with Trail.open(team.trail) as trail:
        assert trail.rows("SELECT 1 FROM visits WHERE visit_id = ?", (visit_id,)) == []
    assert send(team, "Robin", visit_id=visit_id).status_code == 201


def test_a_note_of_a_save_that_came_to_nothing_binds_no_one(team: TeamClient) -> None:
    visit_id = str(uuid.uuid4())
    with People.open(team.trail) as people:
        robin = next(one.person for one in people.everyone() if one.person.name == "Robin")
        # As if the process had died between the note and the visit.
        people.enter(visit_id, by=robin, now=datetime.now(UTC))
    assert send(team, "Dipper", visit_id=visit_id).status_code == 201
    assert author(team, visit_id) == "Dipper"


def test_two_who_send_one_id_at_once_make_one_visit_with_one_author(team: TeamClient) -> None:
    visit_id = str(uuid.uuid4())
    answers: dict[str, int] = {}

    def post(who: str) -> None:
        answers[who] = send(team, who, visit_id=visit_id).status_code

    threads = [threading.Thread(target=post, args=(who,)) for who in ("Robin", "Dipper", "Wren")]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(answers.values()) == [200, 200, 201]
    winner = next(who for who, status in answers.items() if status == 201)
    assert author(team, visit_id) == winner


def test_of_two_corrections_of_one_visit_at_once_one_is_refused(
    team: TeamClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    own = entered(team, "Robin", eggs=3)
    expect_own = Author.expect_own

    def correct_meanwhile(author: Author, visit_id: str) -> None:
        monkeypatch.setattr(Author, "expect_own", expect_own)
        assert send(team, "Wren", replaces=own, eggs=4).status_code == 201

    monkeypatch.setattr(Author, "expect_own", correct_meanwhile)
    answer = send(team, "Robin", replaces=own, eggs=5)
    assert answer.status_code == 409
    assert "Expected the newest record of a visit" in answer.json()["detail"]
    with Trail.open(team.trail) as trail:
        assert trail.rows("SELECT eggs FROM visits WHERE replaces = ?", (own,)) == [(4,)]


def test_the_trail_file_holds_no_account(team: TeamClient) -> None:
    visit_id = entered(team, "Robin")
    with Trail.open(team.trail) as trail:
        assert "Robin" not in {str(value) for value in trail.visit(visit_id).values()}
        tables = {row[0] for row in trail.rows("SELECT name FROM sqlite_master")}
    assert not tables & {"people", "keys", "links", "entries"}


def test_the_observer_is_filled_in_for_who_is_signed_in(team: TeamClient) -> None:
    page = team.client.get("/boxes/M05/visit", headers=team.sent_by("Robin")).text
    assert 'name="observer" value="Robin"' in page
    own = entered(team, "Robin", observer="Robin and Wren")
    page = team.client.get(f"/boxes/M05/visit?replaces={own}", headers=team.sent_by("Robin")).text
    assert 'name="observer" value="Robin and Wren"' in page


def test_the_observer_is_blank_where_no_one_signs_in(client: TestClient) -> None:
    assert 'name="observer" value=""' in client.get("/boxes/M05/visit").text


# The history of a visit.


def test_a_keeper_sees_every_row_of_a_visit_with_who_and_what_changed(team: TeamClient) -> None:
    first = entered(team, "Robin", eggs=3, note="first")
    second = entered(team, "Robin", replaces=first, eggs=4, note="first")
    third = entered(team, "Wren", replaces=second, eggs=4, note="<b>third</b>", box="M06")
    pages = {
        team.client.get(f"/visits/{each}/history", headers=team.sent_by("Wren")).text
        for each in (first, second, third)
    }
    (page,) = pages
    assert page.count("Entered by <b>Robin</b>") == 2
    assert page.count("Entered by <b>Wren</b>") == 1
    assert "corrected 2 times" in page
    assert page.count('class="changed"') == 3
    assert "&lt;b&gt;third" in page
    assert "<b>third" not in page
    assert "History of a visit to box M06" in page


def test_the_history_of_a_visit_made_without_signing_in(client: TestClient) -> None:
    visit = client.post("/api/visits", json={"box": "M05", "date": "2026-06-02", "eggs": 2}).json()
    page = client.get(f"/visits/{visit['visit_id']}/history").text
    assert "a person not signed in" in page
    assert client.get("/visits/nothing/history").status_code == 404


def test_a_correction_of_nothing_that_a_gis_wrote_has_a_history(client: TestClient) -> None:
    trail_path = client.app.state.live.path  # type: ignore[attr-defined]
    with Trail.open(trail_path) as trail:
        trail.add_rows("boxes", [{"box": "X1", "geometry": Point(-77.9, 42.6)}])
        trail.add_rows(
            "visits",
            [{"visit_id": "v1", "box": "X1", "seen_on": "2026-06-01", "replaces": "missing"}],
        )
    assert "holds" in client.get("/visits/v1/history").text


@pytest.mark.parametrize("who", ["Robin", "nobody"])
def test_no_one_but_a_keeper_sees_a_history(team: TeamClient, who: str) -> None:
    own = entered(team, "Robin")
    answer = team.client.get(f"/visits/{own}/history", headers=team.sent_by(who))
    assert answer.status_code in (401, 403)
    assert "M05" not in answer.text


def test_the_way_to_a_history_is_shown_to_keepers(team: TeamClient) -> None:
    own = entered(team, "Robin")
    way = f'href="/visits/{own}/history"'
    for who, shown in (("Wren", True), ("Robin", False), ("Wren", True)):
        page = team.client.get("/boxes/M05", headers=team.sent_by(who)).text
        assert (way in page) == shown
