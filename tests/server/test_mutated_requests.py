"""Ten thousand requests that no client would send: none breaks or changes anything."""

from __future__ import annotations

import json
import random
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import quote, urlencode

import pytest
from fastapi import FastAPI
from fastapi.routing import iter_route_contexts

from layers.trail.store import Trail
from server.app import create_app
from server.settings import ServerSettings
from server.web.authentication.cookies import cookie_name
from server.web.authentication.limits import Buckets
from tests.server.conftest import HOST, ON
from tests.server.raw_requests import RawRequest, answers_to
from tests.server.running import in_own_thread
from tests.server.team import make_team

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
) -> Iterator[RawRequest]:
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
            yield RawRequest(method, path, query, headers=headers)
        else:
            kind = (b"content-type", rng.choice(KINDS).encode())
            yield RawRequest(method, path, query, mutated_body(rng), headers=(*headers, kind))


@pytest.mark.parametrize(
    "mutations", [600, pytest.param(20_000, marks=[pytest.mark.long, pytest.mark.timeout(3600)])]
)
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
    # The first look of a month at the public pages stores what that month publishes.
    in_own_thread(answers_to(create_app(settings), [RawRequest("GET", b"/open/")]))
    before = trail_path.read_bytes()
    app = create_app(settings)
    cookie = f"{cookie_name(mark, secure=False)}={tokens['Wren']}".encode()
    headers = ((b"cookie", cookie), (b"origin", HOST.encode()))
    requests = list(mutated(app, headers, mutations))
    answers = in_own_thread(answers_to(app, requests))
    wrong = {
        request: status
        for request, (status, body) in zip(requests, answers, strict=True)
        if status >= 500 or b"Traceback" in body
    }
    assert wrong == {}
    assert "Traceback" not in caplog.text
    # The requests were such that something was found, something not, and something refused.
    assert {200, 401, 404, 405, 422} - {status for status, _ in answers} <= {401}
    with Trail.open(trail_path) as trail:
        assert trail.version() == version
    assert trail_path.read_bytes() == before
