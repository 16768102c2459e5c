"""The gate: who is let in, by what, and that nothing kept or changed gets round it."""

from __future__ import annotations

import base64
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import httpx
import pytest
from fastapi import FastAPI, Request, Response
from fastapi.testclient import TestClient

from layers.errors import BadValue, EnvironmentFault
from server.app import create_app
from server.settings import ServerSettings
from server.web.authentication.roles import Role, Who
from server.web.authentication.side_file import people_path
from server.web.authentication.store import People
from server.web.responses import Live, cached
from tests.server.conftest import HOST, ON, Process, locked
from tests.server.team import TeamClient

VISIT = {"box": "M05", "date": "2026-06-02", "opened": "yes"}
NAMED = {"Accept": "text/html"}


def key_of(team: TeamClient, name: str, kind: Any) -> str:
    with People.open(team.trail) as people:
        return people.add_key(name, kind=kind, label="test", now=datetime.now(UTC))


def basic(password: str, *, user: str = "anything") -> dict[str, str]:
    return {"Authorization": "Basic " + base64.b64encode(f"{user}:{password}".encode()).decode()}


# Open and closed.


def test_alone_and_with_no_one_invited_no_one_signs_in(client: TestClient) -> None:
    assert client.get("/list").status_code == 200
    assert client.post("/api/visits", json=VISIT).status_code == 201
    assert "No one was invited to this trail" in client.get("/people").text


def test_the_first_invitation_closes_a_server_that_runs(
    client: TestClient, trail_path: Path
) -> None:
    etag = client.get("/list").headers["etag"]
    with People.open_or_create(trail_path) as people:
        assert client.get("/list").status_code == 200
        people.invite("Wren", role=Role.KEEPER, now=datetime.now(UTC))
    assert client.get("/list").status_code == 401
    assert client.get("/list", headers={"If-None-Match": etag}).status_code == 401


def test_real_processes_close_too(start: Callable[..., Process], trail_path: Path) -> None:
    server = start(trail_path, "--workers", "2")
    invite = [sys.executable, "-m", "server.command", "invite", str(trail_path)]
    subprocess.run([*invite, "--name", "Wren", "--role", "keeper"], check=True, capture_output=True)
    # New connections, so that either worker may answer.
    assert {httpx.get(f"{server.address}/list").status_code for _ in range(8)} == {401}


@pytest.mark.parametrize(
    "more",
    [
        {"host": "0.0.0.0"},
        {"host": "192.0.2.7"},
        {"public_url": "https://trail.example.org"},
        {"allowed_hosts": ("field-laptop.local",)},
    ],
)
def test_where_others_can_reach_it_it_does_not_start_without_a_keeper(
    trail_path: Path, more: dict[str, Any]
) -> None:
    settings = ServerSettings(trail=trail_path, on=ON, **more)
    message = r"boxround invite trail\.gpkg --name YOUR-NAME --role keeper"
    with pytest.raises(BadValue, match=message), TestClient(create_app(settings)):
        pass
    now = datetime.now(UTC)
    with People.open_or_create(trail_path) as people:
        people.invite("Robin", role=Role.WALKER, now=now)
    with pytest.raises(BadValue, match=message), TestClient(create_app(settings)):
        pass
    with People.open_or_create(trail_path) as people:
        people.invite("Wren", role=Role.KEEPER, now=now)
    with TestClient(create_app(settings), base_url=HOST) as client:
        assert client.get("/list").status_code == 401


@pytest.mark.parametrize("host", ["127.0.0.1", "127.8.8.8", "::1", "localhost"])
def test_a_loopback_address_is_this_machine_alone(trail_path: Path, host: str) -> None:
    assert ServerSettings(trail=trail_path, host=host).alone


def test_a_side_file_that_is_gone_opens_nothing(team: TeamClient) -> None:
    assert team.client.get("/list", headers=team.sent_by("Wren")).status_code == 200
    aside = team.trail.with_name("aside.people")
    people_path(team.trail).rename(aside)
    for who in ("Wren", "nobody"):
        assert team.client.get("/list", headers=team.sent_by(who)).status_code == 401
    shutil.copy(aside, people_path(team.trail))
    assert team.client.get("/list", headers=team.sent_by("Wren")).status_code == 200


def test_a_damaged_side_file_lets_no_one_in_and_reveals_nothing(team: TeamClient) -> None:
    aside = team.trail.with_name("damaged.people")
    aside.write_bytes(b"no database" * 500)
    aside.replace(people_path(team.trail))
    for who in ("Wren", "nobody"):
        answer = team.client.get("/list", headers=team.sent_by(who))
        assert answer.status_code == 503
        assert "gpkg" not in answer.text
    assert team.client.get("/sign-in").status_code == 200


def test_what_is_no_file_in_the_side_files_place_lets_no_one_in(team: TeamClient) -> None:
    people_path(team.trail).rename(team.trail.with_name("aside.people"))
    people_path(team.trail).mkdir()
    for who in ("Wren", "nobody"):
        assert team.client.get("/list", headers=team.sent_by(who)).status_code == 503
    assert team.client.get("/sign-in").status_code == 200


def test_a_key_that_cannot_be_looked_up_lets_no_one_in(
    team: TeamClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object) -> None:
        raise EnvironmentFault("trail.gpkg.people could not be used")

    monkeypatch.setattr(People, "key", fail)
    answer = team.client.get("/list", headers=team.sent_by("Wren"))
    assert answer.status_code == 503
    assert "gpkg" not in answer.text


# Kept answers.


def test_what_was_cached_for_the_team_is_not_given_to_outsiders(team: TeamClient) -> None:
    for address in ("/map/base", "/list", "/api/boxes"):
        for _ in range(2):
            etag = team.client.get(address, headers=team.sent_by("Wren")).headers["etag"]
        for who in ("nobody", "stranger", "Rook", "Swift"):
            seen = team.sent_by(who) | {"If-None-Match": etag}
            assert team.client.get(address, headers=seen).status_code == 401
            assert team.client.head(address, headers=seen).status_code == 401


@pytest.fixture
def with_routes(team: TeamClient) -> Iterator[TeamClient]:
    """The team's app with two routes whose author declared nothing."""
    app = team.client.app
    assert isinstance(app, FastAPI)

    @app.get("/new/read")
    def read(request: Request, live: Live, by: Who) -> Response:
        return cached(
            request, live.contents(), f"for a {by.role}".encode(), media_type="text/plain"
        )

    @app.post("/new/change")
    def change() -> str:
        return "changed"

    # An id may hold a slash, but no address of a box begins like these.
    yield team


def test_an_answer_cached_for_a_keeper_is_not_given_to_a_walker(with_routes: TeamClient) -> None:
    for _ in range(2):
        for who, role in (("Wren", "keeper"), ("Robin", "walker"), ("Dipper", "walker")):
            answer = with_routes.client.get("/new/read", headers=with_routes.sent_by(who))
            assert answer.text == f"for a {role}"
            assert answer.headers["cache-control"] == "private, no-cache"
            assert answer.headers["vary"] == "Accept-Encoding, Cookie, Authorization"


def test_a_new_route_is_safe_without_its_authors_help(with_routes: TeamClient) -> None:
    for who, read, changed in (
        ("nobody", 401, 401),
        ("stranger", 401, 401),
        ("Robin", 200, 403),
        ("Wren", 200, 200),
    ):
        sent = with_routes.sent_by(who)
        assert with_routes.client.get("/new/read", headers=sent).status_code == read
        assert with_routes.client.post("/new/change", headers=sent).status_code == changed


# Ending access.


def test_revoking_holds_at_the_next_request(team: TeamClient) -> None:
    sent = team.sent_by("Robin")
    assert team.client.get("/map/base", headers=sent).status_code == 200
    with People.open(team.trail) as people:
        people.revoke("Robin", now=datetime.now(UTC))
    answer = team.client.get("/map/base", headers=sent)
    assert answer.status_code == 401
    assert "Your access has ended" in answer.json()["detail"]


def test_access_ends_by_itself_and_a_page_says_so(
    team: TeamClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    sent = team.sent_by("Robin") | NAMED
    assert team.client.get("/list", headers=sent).status_code == 200
    later = datetime(2100, 1, 1, tzinfo=UTC)
    monkeypatch.setattr("server.web.authentication.middleware.utc_now", lambda: later)
    answer = team.client.get("/list", headers=sent)
    assert answer.status_code == 401
    assert "Your access has ended" in answer.text


def test_when_a_key_was_last_used_is_noted(team: TeamClient) -> None:
    team.client.get("/list", headers=team.sent_by("Robin"))
    with People.open(team.trail) as people:
        seen = {one.person.name: one.seen for one in people.everyone()}
    assert seen["Robin"] is not None
    assert (datetime.now(UTC) - seen["Robin"]).total_seconds() < 60
    assert seen["Dipper"] is None


def test_a_side_file_that_another_program_holds_keeps_no_one_out(team: TeamClient) -> None:
    with locked(people_path(team.trail)):
        assert team.client.get("/list", headers=team.sent_by("Robin")).status_code == 200
    with People.open(team.trail) as people:
        assert {one.seen for one in people.everyone()} == {None}


# Programs and calendars.


def test_a_program_key_opens_as_bearer_and_as_password(team: TeamClient) -> None:
    key = key_of(team, "Robin", "program")
    for headers in ({"Authorization": f"Bearer {key}"}, basic(key), basic(key, user="")):
        assert team.client.get("/api/boxes", headers=headers).status_code == 200
        assert team.client.post("/api/visits", json=VISIT, headers=headers).status_code in (
            200,
            201,
        )
        assert team.client.post("/people/invite", headers=headers).status_code == 403


@pytest.mark.parametrize(
    "header",
    [
        "Bearer",
        "Bearer wrong",
        "Basic !!!",
        "Basic " + base64.b64encode(b"\xff\xfe:\xff").decode(),
        "Basic " + base64.b64encode(b"no colon").decode(),
        "Digest x",
        "",
    ],
)
def test_a_header_that_holds_no_key_opens_nothing(team: TeamClient, header: str) -> None:
    # Not even beside a good cookie: what was stated is what counts.
    sent = team.sent_by("Wren") | {"Authorization": header}
    assert team.client.get("/api/boxes", headers=sent).status_code == 401


def test_a_key_opens_only_in_its_own_place(team: TeamClient) -> None:
    device, program = team.tokens["Wren"], key_of(team, "Wren", "program")
    calendar = key_of(team, "Wren", "calendar")
    for token in (device, calendar):
        stated = {"Authorization": f"Bearer {token}"}
        assert team.client.get("/api/boxes", headers=stated).status_code == 401
    team.tokens.update({"program as cookie": program, "calendar as cookie": calendar})
    for who in ("program as cookie", "calendar as cookie"):
        assert team.client.get("/api/boxes", headers=team.sent_by(who)).status_code == 401
    for token in (device, program):
        assert team.client.get("/due.ics", params={"token": token}).status_code == 401


def test_a_calendar_key_reads_the_calendar_and_nothing_else(team: TeamClient) -> None:
    asked = {"token": key_of(team, "Robin", "calendar")}
    answer = team.client.get("/due.ics", params=asked)
    assert answer.status_code == 200
    assert answer.text.startswith("BEGIN:VCALENDAR")
    assert asked["token"] not in answer.text
    for address in ("/list", "/due", "/api/due", "/due.ics/", "/api/boxes"):
        assert team.client.get(address, params=asked).status_code == 401
    assert team.client.post("/due.ics", params=asked).status_code == 401
    with People.open(team.trail) as people:
        people.revoke("Robin", now=datetime.now(UTC))
    assert team.client.get("/due.ics", params=asked).status_code == 401


def test_whoever_is_signed_in_may_open_a_calendars_address_too(team: TeamClient) -> None:
    asked = {"token": key_of(team, "Robin", "calendar")}
    answer = team.client.get("/due.ics", params=asked, headers=team.sent_by("Wren"))
    assert answer.status_code == 200
    answer = team.client.get("/due.ics", params=asked | {"box": "M05"})
    assert answer.status_code == 200


def test_a_password_is_requested_where_only_programs_go(team: TeamClient) -> None:
    for address, asks in (("/ogc/collections", True), ("/api/visits", False), ("/list", False)):
        challenge = team.client.get(address).headers["www-authenticate"]
        assert challenge.startswith("Bearer ")
        assert ("Basic" in challenge) == asks


def test_the_cookie_of_another_trail_on_the_same_host_opens_nothing(team: TeamClient) -> None:
    token = team.tokens["Wren"]
    for name in ("boxround-00000000", "boxround", f"__Host-boxround-{team.mark}"):
        assert team.client.get("/list", headers={"Cookie": f"{name}={token}"}).status_code == 401


def test_the_cookie_is_found_among_others(team: TeamClient) -> None:
    own = team.sent_by("Robin")["Cookie"]
    for cookies in (f"a=1; {own}", f"{own};b=2", f"x; ;=; {own} ; boxround=3"):
        assert team.client.get("/list", headers={"Cookie": cookies}).status_code == 200


# How often.


def test_who_tries_keys_is_sent_away_for_a_while_and_the_team_is_not(team: TeamClient) -> None:
    assert team.client.get("/list", headers=team.sent_by("Wren")).status_code == 200
    statuses = [
        team.client.get("/list", headers=team.sent_by("stranger")).status_code for _ in range(40)
    ]
    assert statuses[:30] == [401] * 30
    assert statuses[-1] == 429
    answer = team.client.get("/list", headers=team.sent_by("stranger"))
    assert int(answer.headers["retry-after"]) >= 1
    assert answer.headers["content-type"] == "application/problem+json"
    assert team.client.get("/list", headers=team.sent_by("Wren")).status_code == 200


def test_who_tries_codes_is_sent_away_for_a_while(team: TeamClient) -> None:
    statuses: list[int] = []
    while not statuses or (statuses[-1] == 403 and len(statuses) < 100):
        statuses.append(team.client.post("/sign-in", data={"code": "1"}).status_code)
    # Turns come back with time: on a slow machine some more than 10 are granted.
    assert statuses[:10] == [403] * 10
    assert statuses[-1] == 429
    assert team.client.get("/sign-in").status_code == 200


def test_one_who_writes_too_much_keeps_no_one_else_from_writing(team: TeamClient) -> None:
    def post(who: str) -> int:
        return team.client.post("/api/visits", json={}, headers=team.sent_by(who)).status_code

    statuses: list[int] = []
    while not statuses or (statuses[-1] == 422 and len(statuses) < 1000):
        statuses.append(post("Robin"))
    # Turns come back with time: on a slow machine some more than 200 are granted.
    assert statuses[:200] == [422] * 200
    assert statuses[-1] == 429
    assert post("Dipper") == 422
    assert team.client.get("/list", headers=team.sent_by("Robin")).status_code == 200
