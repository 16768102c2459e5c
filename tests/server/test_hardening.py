"""What an attacker, a broken client or a slow line may try, and what the log tells of it."""

from __future__ import annotations

import asyncio
import json
import logging
import random
import re
import signal
import socket
import threading
import time
import uuid
from collections.abc import AsyncIterator, Callable, Iterable, Iterator
from contextlib import asynccontextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import quote, unquote, urlencode

import httpx
import pytest
import uvicorn
from fastapi import FastAPI
from fastapi.routing import iter_route_contexts
from fastapi.testclient import TestClient

from layers.trail.checking import check_trail
from layers.trail.store import Trail
from server.app import create_app
from server.importing.drafts import Drafts
from server.settings import ServerSettings
from server.web.authentication.cookies import cookie_name
from server.web.authentication.limits import Buckets
from server.web.authentication.side_file import people_path
from server.web.host_check import FILES_AT, MAX_BODY_BYTES, HostCheck
from server.web.idle_timeout import ProtocolWithIdleTimeout
from tests.server.conftest import HOST, ON, Process, locked
from tests.server.running import in_own_thread
from tests.server.team import TeamClient, make_team

SECRET_NOTE = "found by Whinchat near the ford"
WITHOUT_A_BODY = ("{draft_id}/add", "{draft_id}/remove", "{import_id}/withdraw")
VISIT = {"box": "M05", "date": "2026-06-02", "observer": "Whinchat", "note": SECRET_NOTE}


@dataclass(frozen=True)
class Asked:
    """A request as its bytes say, such as no client would send it."""

    method: str
    raw_path: bytes
    query: bytes = b""
    body: bytes = b""
    headers: tuple[tuple[bytes, bytes], ...] = ()


async def answers_to(app: FastAPI, requests: Iterable[Asked]) -> list[tuple[int, bytes]]:
    """Status and body of the answer to each, asked one after another."""
    answers = []
    async with app.router.lifespan_context(app):
        for asked in requests:
            answers.append(await answer_to(app, asked))
    return answers


async def answer_to(app: FastAPI, asked: Asked) -> tuple[int, bytes]:
    """What a server makes of these bytes is what uvicorn makes of them."""
    scope = {
        "type": "http",
        "asgi": {"version": "3.0"},
        "http_version": "1.1",
        "method": asked.method,
        "scheme": "http",
        "path": unquote(asked.raw_path.decode("ascii")),
        "raw_path": asked.raw_path,
        "root_path": "",
        "query_string": asked.query,
        "headers": [(b"host", b"127.0.0.1"), *asked.headers],
        "client": ("127.0.0.1", 1),
        "server": ("127.0.0.1", 80),
        "state": {},
    }
    status, parts = 0, []

    async def receive() -> dict[str, Any]:
        return {"type": "http.request", "body": asked.body, "more_body": False}

    async def send(message: Any) -> None:
        nonlocal status
        if message["type"] == "http.response.start":
            status = message["status"]
        else:
            parts.append(message.get("body", b""))

    await app(scope, receive, send)
    return status, b"".join(parts)


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


@pytest.mark.parametrize("head", [b"", b"GET / HT", b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\n"])
def test_a_connection_over_which_no_request_comes_is_closed(
    monkeypatch: pytest.MonkeyPatch, head: bytes
) -> None:
    monkeypatch.setattr("server.web.idle_timeout.IDLE_TIMEOUT_S", 0.1)

    async def wait() -> bytes:
        async with served(_answer_slowly) as port:
            reader, writer = await asyncio.open_connection("127.0.0.1", port)
            writer.write(head)
            try:
                return await asyncio.wait_for(reader.read(), 10)
            finally:
                writer.close()

    assert in_own_thread(wait()) == b""


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


def test_the_log_tells_nothing_of_persons_visits_or_places(
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


def test_a_person_is_told_of_an_error_without_its_inside(
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
    ((status, body),) = in_own_thread(answers_to(app, [Asked("GET", path.encode())]))
    assert status in (401, 404)
    assert b"M05" not in body


# Stopping.


def test_a_save_under_way_is_finished_when_the_server_is_asked_to_stop(
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


def test_check_tells_of_a_side_file_that_others_may_read(trail_path: Path) -> None:
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


# Ten thousand requests that nobody would send.


WORDS = [
    *("on", "box", "season", "limit", "after", "since", "corrected", "lat", "lon"),
    *("k", "page", "saved", "replaces", "year", "species", "by", "bbox", "datetime", "f", "offset"),
    *("token", "boxes", "start", "minutes", "theme", "all", "code", "name", "key", "kind", "role"),
]
VALUES = [
    *("2026-06-01", "M05", "2026", "1", "-1", "0", "1e309", "nan", "9" * 400, "\x00", "'", '"'),
    *("<script>", "../..", "..%2f", "; DROP TABLE visits", "' OR 1=1 --", "2026-02-30", "1900"),
    *("0000-00-00", "9999-12-31", "true", "null", "[]", "{}", "\ud7ff", "é", "🐦", "a" * 3000),
    *("42.6", "-77.9", "91", "inf", "1,2,3", "-180,-90,180,90", "../", "2026-06-01/..", "\u202e"),
]
SLOW = ("/api/round", "/round", "/api/season", "/season", "/api/winter", "/winter")
"""These compute for seconds where they are asked properly, and have tests of their own."""

KINDS = [
    *("application/json", "text/plain", "multipart/form-data; boundary=x", ""),
    "application/x-www-form-urlencoded",
]


def mutated_query(rng: random.Random) -> bytes:
    given = [(rng.choice(WORDS), rng.choice(VALUES)) for _ in range(rng.randint(0, 4))]
    query = bytearray(urlencode(given).encode())
    return bytes(spoilt(query, rng)) if rng.random() < 0.3 else bytes(query)


def mutated_path(route: str, rng: random.Random) -> bytes:
    parts = re.split(r"(\{[^}]*\})", route)
    known = ["M05", "boxes", "2026", *VALUES]
    return "".join(
        quote(rng.choice(known), safe="/" if rng.random() < 0.5 else "") if "{" in part else part
        for part in parts
    ).encode()


def mutated_body(rng: random.Random) -> bytes:
    """A visit that cannot be saved: it corrects one that does not exist, and more is wrong."""
    visit: dict[str, Any] = {"box": "M05", "date": "2026-06-02", "eggs": 3, "signs": "wet;cold"}
    for name in rng.sample([*visit, "time", "nest", "young", "observer", "note", "strange"], 3):
        visit[name] = rng.choice([*VALUES, None, True, 7, -1, 1e300, [], {}, ["x"], 10**30])
    visit["replaces"] = "no such visit"
    if rng.random() < 0.5:
        return json.dumps(visit, ensure_ascii=rng.random() < 0.5).encode("utf-8", "surrogatepass")
    return bytes(spoilt(bytearray(json.dumps(visit).encode()), rng))


def spoilt(text: bytearray, rng: random.Random) -> bytearray:
    for _ in range(rng.randint(1, 6)):
        if text:
            text[rng.randrange(len(text))] = rng.randrange(256)
    if text and rng.random() < 0.2:
        del text[rng.randrange(len(text)) :]
    return text


def mutated(
    app: FastAPI, headers: tuple[tuple[bytes, bytes], ...], mutations: int
) -> Iterator[Asked]:
    """Requests to every address that answers quickly, the same ones at each run."""
    rng = random.Random(2026)
    routes = [
        (method, route.path)
        for route in iter_route_contexts(app.routes)
        for method in getattr(route, "methods", None) or {"GET"}
        if route.path and not route.path.startswith(SLOW) and route.path != "/sign-out"
    ]
    routes.sort()
    posts = [route for route in routes if route[0] == "POST"]
    for _ in range(mutations):
        method, route = rng.choice(posts if rng.random() < 0.4 else routes)
        if rng.random() < 0.1:
            method = rng.choice(["HEAD", "OPTIONS", "PUT", "DELETE", "TRACE", "X"])
        path, query = mutated_path(route, rng), mutated_query(rng)
        if method != "POST":
            yield Asked(method, path, query, headers=headers)
        else:
            kind = (b"content-type", rng.choice(KINDS).encode())
            yield Asked(method, path, query, mutated_body(rng), headers=(*headers, kind))


@pytest.mark.parametrize("mutations", [600, pytest.param(10_000, marks=pytest.mark.long)])
def test_mutated_requests_break_nothing_and_change_nothing(
    mutations: int,
    trail_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
) -> None:
    monkeypatch.setattr(Buckets, "take", lambda *_, **__: 0)
    mark, tokens = make_team(trail_path)
    with Trail.open(trail_path) as trail:
        version = trail.version()
    settings = ServerSettings(trail=trail_path, on=ON)
    # The first look of a month at the public pages keeps what that month publishes.
    in_own_thread(answers_to(create_app(settings), [Asked("GET", b"/open/")]))
    before = trail_path.read_bytes()
    app = create_app(settings)
    cookie = f"{cookie_name(mark, secure=False)}={tokens['Wren']}".encode()
    headers = ((b"cookie", cookie), (b"origin", HOST.encode()))
    requests = list(mutated(app, headers, mutations))
    answers = in_own_thread(answers_to(app, requests))
    wrong = {
        asked: status
        for asked, (status, body) in zip(requests, answers, strict=True)
        if status >= 500 or b"Traceback" in body
    }
    assert wrong == {}
    assert "Traceback" not in caplog.text
    # The requests were such that something was found, something not, and something refused.
    assert {200, 401, 404, 405, 422} - {status for status, _ in answers} <= {401}
    with Trail.open(trail_path) as trail:
        assert trail.version() == version
    assert trail_path.read_bytes() == before
