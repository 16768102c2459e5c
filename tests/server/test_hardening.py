"""What an attacker, a broken client or a slow line may try, and what the log tells of it."""

from __future__ import annotations

import asyncio
import logging
import signal
import socket
import threading
import time
import uuid
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import httpx
import pytest
import uvicorn
from fastapi.routing import iter_route_contexts
from fastapi.testclient import TestClient

from layers.trail.checking import check_trail
from layers.trail.store import Trail
from server.app import create_app
from server.importing.drafts import Drafts
from server.settings import ServerSettings
from server.web.authentication.limits import Buckets
from server.web.authentication.side_file import people_path
from server.web.host_check import FILES_AT, MAX_BODY_BYTES, HostCheck
from server.web.idle_timeout import ProtocolWithIdleTimeout
from tests.server.conftest import ON, Process, locked
from tests.server.raw_requests import RawRequest, answers_to
from tests.server.running import in_own_thread
from tests.server.team import TeamClient, make_team

SECRET_NOTE = "found by Whinchat near the ford"
WITHOUT_A_BODY = ("{draft_id}/remove", "{import_id}/withdraw")
VISIT = {"box": "M05", "date": "2026-06-02", "observer": "Whinchat", "note": SECRET_NOTE}


# Slow and long requests.


def test_a_body_that_does_not_come_is_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("server.web.host_check.MAX_BODY_S", 0.05)

    async def nothing_behind(*_: object) -> None:
        raise AssertionError("the app was asked")

    async def one_letter_and_then_none() -> dict[str, Any]:
        if first:
            return {"type": "http.request", "body": first.pop(), "more_body": True}
        await asyncio.sleep(60)
        raise AssertionError("waited for the body")

    async def collect(message: Any) -> None:
        sent.append(message)

    first, sent = [b"{"], list[dict[str, Any]]()
    guard = HostCheck(nothing_behind, hosts=frozenset({"127.0.0.1"}), public_origin=None)
    scope = {
        "type": "http",
        "method": "POST",
        "path": "/api/visits",
        "query_string": b"",
        "headers": [(b"host", b"127.0.0.1")],
    }
    in_own_thread(guard(scope, one_letter_and_then_none, collect))
    assert sent[0]["status"] == 408
    assert (b"connection", b"close") in sent[0]["headers"]


@asynccontextmanager
async def served(app: Any) -> AsyncIterator[int]:
    """A server in this process with our protocol; gives its port."""
    listening = socket.socket()
    listening.bind(("127.0.0.1", 0))
    config = uvicorn.Config(
        app, http=ProtocolWithIdleTimeout, log_level="warning", ws="none", lifespan="off"
    )
    server = uvicorn.Server(config)
    running = asyncio.create_task(server._serve([listening]))
    while not server.started:
        await asyncio.sleep(0.01)
    try:
        yield listening.getsockname()[1]
    finally:
        server.should_exit = True
        await running
        listening.close()


async def _answer_slowly(scope: Any, receive: Any, send: Any) -> None:
    await asyncio.sleep(0.6)
    await send(
        {"type": "http.response.start", "status": 200, "headers": [(b"content-length", b"2")]}
    )
    await send({"type": "http.response.body", "body": b"ok"})


async def raw_answer(app: Any, sent: bytes) -> bytes:
    """What a server answers over a socket until it or we close."""
    async with served(app) as port:
        reader, writer = await asyncio.open_connection("127.0.0.1", port)
        writer.write(sent)
        try:
            return await asyncio.wait_for(reader.read(), 10)
        finally:
            writer.close()


@pytest.mark.parametrize("head", [b"", b"GET / HT", b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\n"])
def test_a_connection_over_which_no_request_comes_is_closed(
    monkeypatch: pytest.MonkeyPatch, head: bytes
) -> None:
    monkeypatch.setattr("server.web.idle_timeout.IDLE_TIMEOUT_S", 0.1)

    assert in_own_thread(raw_answer(_answer_slowly, head)) == b""


def test_an_answer_that_takes_its_time_is_not_cut_off(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("server.web.idle_timeout.IDLE_TIMEOUT_S", 0.1)

    async def ask() -> bytes:
        async with served(_answer_slowly) as port:
            reader, writer = await asyncio.open_connection("127.0.0.1", port)
            writer.write(b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
            answer = await asyncio.wait_for(reader.readuntil(b"ok"), 10)
            # Nothing more is asked on it, so it ends.
            assert await asyncio.wait_for(reader.read(), 10) == b""
            writer.close()
            return answer

    assert in_own_thread(ask()).startswith(b"HTTP/1.1 200")


def test_no_address_but_the_import_of_keepers_takes_a_file(
    team: TeamClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Buckets, "take", lambda *_, **__: 0)
    handed_in = {"file": ("a.csv", b"box,date,eggs\nM05,2026-05-14,5\n")}
    answer = team.client.post(FILES_AT, files=handed_in, headers=team.sent_by("Robin"))
    assert answer.status_code == 403
    drafts = Drafts(team.trail)
    assert not list(drafts.all())
    with Trail.open(team.trail) as trail:
        before = trail.visit_rows(current=False)
    tried = 0
    assert not isinstance(team.client.app, str)
    for route in iter_route_contexts(team.client.app.routes):  # type: ignore[attr-defined]
        methods = getattr(route, "methods", None) or ()
        if "POST" not in methods or route.path in ("/sign-out", FILES_AT):
            continue
        path = (route.path or "").replace("{box:path}", "M05")
        files = {"code": ("a.gpkg", b"GPKG" * 100), "name": ("b", b"x"), "date": ("c", b"y")}
        answer = team.client.post(path, files=files | handed_in, headers=team.sent_by("Wren"))
        # An id of no import is not known, whatever is sent to it.
        refused = (404,) if path.endswith(WITHOUT_A_BODY) else (400, 403, 422)
        assert answer.status_code in refused, path
        tried += 1
    assert tried >= 5
    assert not list(drafts.all())
    with Trail.open(team.trail) as trail:
        assert trail.visit_rows(current=False) == before
    answer = team.client.post(
        FILES_AT, files=handed_in, headers=team.sent_by("Wren"), follow_redirects=False
    )
    assert answer.status_code == 303
    assert len(list(drafts.all())) == 1


# The log and the pages of errors.


def test_the_log_holds_nothing_of_persons_visits_or_places(
    team: TeamClient, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    caplog.set_level(logging.DEBUG)
    sent = team.sent_by("Robin")

    def fail(*_: object, **__: object) -> None:
        raise RuntimeError(f"cannot read {SECRET_NOTE}")

    team.client.post("/api/visits", json=VISIT, headers=sent)
    team.client.post("/api/visits", json=VISIT | {"eggs": "many"}, headers=sent)
    team.client.get("/boxes/M05?on=2026-06-01", headers=sent)
    with locked(team.trail):
        team.client.post("/api/visits", json=VISIT | {"eggs": 1}, headers=sent)
    monkeypatch.setattr("server.visits.recording.read_visit", fail)
    answer = team.client.post("/api/visits", json=VISIT, headers=sent)
    assert answer.status_code == 500
    ours = [record.getMessage() for record in caplog.records if "boxround" in record.name]
    assert any("problem" in line and "RuntimeError" in line for line in ours)
    assert any("Another program is writing" in line for line in ours)
    for word in ("Whinchat", "ford", "Robin", "M05", "2026-06", team.tokens["Robin"], "127.0.0.1"):
        assert not [line for line in ours if word in line], word


def test_a_person_reads_of_an_error_without_its_inside(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object, **__: object) -> None:
        raise RuntimeError("inside")

    monkeypatch.setattr("server.boxes.page.box_states", fail)
    page = client.get("/list", headers={"Accept": "text/html"})
    assert page.status_code == 500
    assert page.headers["content-type"].startswith("text/html")
    assert "frame-ancestors 'none'" in page.headers["content-security-policy"]
    for word in ("inside", "Traceback", "RuntimeError", ".py", "/work", "server."):
        assert word not in page.text
    problem = client.get("/list", headers={"Accept": "application/json"})
    assert problem.headers["content-type"] == "application/problem+json"
    assert "inside" not in problem.text


@pytest.mark.parametrize("refused", [421, 403, 413])
def test_what_the_guard_refuses_carries_the_security_headers_too(
    client: TestClient, refused: int
) -> None:
    headers = {"Accept": "text/html"}
    if refused == 421:
        answer = client.get("/", headers=headers | {"Host": "evil.test"})
    elif refused == 403:
        answer = client.post("/api/visits", headers=headers | {"Origin": "http://evil.test"})
    else:
        answer = client.post("/list", headers=headers, content=b"x" * (MAX_BODY_BYTES + 1))
    assert answer.status_code == refused
    assert answer.headers["x-content-type-options"] == "nosniff"


TRAVERSALS = [
    "/static/../app.py",
    "/static/..%2fapp.py",
    "/static/%2e%2e/%2e%2e/pyproject.toml",
    "/static/map/..%5c..%5cpage.py",
    "/static//etc/passwd",
    "/static/%00",
    "/open/../list",
    "/open/%2e%2e/list",
    "/open/..%2f..%2fapi/boxes",
    "/sign-in/../list",
    "//list",
    "/static/../list",
]


@pytest.mark.parametrize("path", TRAVERSALS)
def test_no_path_leads_from_what_is_public_to_what_is_not(trail_path: Path, path: str) -> None:
    make_team(trail_path)
    app = create_app(ServerSettings(trail=trail_path, on=ON))
    ((status, body),) = in_own_thread(answers_to(app, [RawRequest("GET", path.encode())]))
    assert status in (401, 404)
    assert b"M05" not in body


# Stopping.


def test_a_save_under_way_is_finished_when_the_server_is_stopped(
    start: Callable[..., Process], trail_path: Path
) -> None:
    server = start(trail_path)
    visit = VISIT | {"visit_id": str(uuid.uuid4())}
    answers: list[int] = []

    def post() -> None:
        answers.append(httpx.post(f"{server.address}/api/visits", json=visit).status_code)

    with locked(trail_path):
        posting = threading.Thread(target=post)
        posting.start()
        time.sleep(0.5)
        server._process.send_signal(signal.SIGTERM)
        time.sleep(0.2)
    posting.join()
    assert server._finish() in (0, -signal.SIGTERM)
    assert answers == [201]
    with Trail.open(trail_path) as trail:
        assert trail.visit(visit["visit_id"])["observer"] == "Whinchat"


# Files that others may read.


def test_check_finds_a_side_file_that_others_may_read(trail_path: Path) -> None:
    make_team(trail_path)
    with Trail.open(trail_path) as trail:
        assert not [one for one in check_trail(trail) if one.where.startswith("file ")]
        people_path(trail_path).chmod(0o644)
        (found,) = [one for one in check_trail(trail) if one.where.startswith("file ")]
        assert (found.severity, found.where) == ("look", "file trail.gpkg.people")
        assert "chmod 600" in found.what
        people_path(trail_path).chmod(0o600)
        trail_path.chmod(0o666)
        (found,) = [one for one in check_trail(trail) if one.where.startswith("file ")]
        assert (found.where, "chmod o-w" in found.what) == ("file trail.gpkg", True)
