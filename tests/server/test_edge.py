"""What strangers may send over the line, and text that programs of others could run."""

from __future__ import annotations

import csv
import json
import logging
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from layers.trail.exporting.harmless import harmless
from server.app import create_app
from server.command import main
from server.live.clock import Clock
from server.live.trail import LiveTrail
from server.public.port import public_app
from server.settings import ServerSettings
from tests.server.conftest import HOST, ON
from tests.server.live.test_trail import visit
from tests.server.running import in_own_thread
from tests.server.test_hardening import raw_answer

FORMULAS = ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1+1"]


@pytest.mark.parametrize("text", FORMULAS)
def test_text_that_begins_like_a_formula_gets_an_apostrophe(text: str) -> None:
    assert harmless(text) == f"'{text}"


@pytest.mark.parametrize("value", ["plain = text", "", -1, -77.9, None])
def test_numbers_and_other_text_stay_as_they_are(value: object) -> None:
    assert harmless(value) == value


def test_text_that_begins_like_a_formula_is_harmless_in_team_exports(
    client: TestClient, trail_path: Path
) -> None:
    for text in FORMULAS:
        sent = client.post("/api/visits", json=visit() | {"note": text})
        assert sent.status_code == 201
    out = trail_path.with_name("visits.csv")
    words = ["export", str(trail_path), "--full", "--table", "visits", "-o", str(out)]
    assert main([*words, "--on", str(ON)]) == 0
    with out.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    notes = {row["note"] for row in rows if row["note"].startswith("'")}
    assert {f"'{text.strip()}" for text in FORMULAS} <= {note.replace("\t", "") for note in notes}
    assert not any(cell.startswith(("=", "@", "\t")) for row in rows for cell in row.values())


@pytest.mark.parametrize(
    ("named", "host", "status"),
    [
        ({}, "127.0.0.1:8001", 200),
        ({}, "evil.test", 421),
        ({"public_url": "https://trail.example.org"}, "trail.example.org", 200),
        ({"public_url": "https://trail.example.org"}, "evil.test", 421),
        ({"allowed_hosts": ("map.example.org",)}, "map.example.org", 200),
    ],
)
def test_the_public_port_answers_to_its_own_names_alone(
    trail_path: Path, named: dict[str, object], host: str, status: int
) -> None:
    settings = ServerSettings.model_validate({"trail": trail_path, "on": ON, **named})
    live = LiveTrail(trail_path, clock=Clock(ON), busy_s=1.0)
    live.open()
    sent = f"GET / HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n".encode()
    try:
        answer = in_own_thread(raw_answer(public_app(live, settings), sent))
    finally:
        live.close()
    assert answer.startswith(b"HTTP/1.1 %d " % status)
    if settings.public_url is not None and status == 200:
        assert b"https://trail.example.org/open/" in answer


@pytest.mark.parametrize(("more", "status"), [("", 201), ("Origin: https://evil.test\r\n", 403)])
def test_two_origins_are_refused(trail_path: Path, more: str, status: int) -> None:
    app = create_app(ServerSettings(trail=trail_path, on=ON))
    body = json.dumps(visit())
    sent = (
        f"POST /api/visits HTTP/1.1\r\nHost: 127.0.0.1\r\nOrigin: {HOST}\r\n{more}"
        f"Content-Type: application/json\r\nContent-Length: {len(body)}\r\n"
        f"Connection: close\r\n\r\n{body}"
    )
    with TestClient(app):
        answer = in_own_thread(raw_answer(app, sent.encode()))
    assert answer.startswith(b"HTTP/1.1 %d " % status)


NOISE = [
    b"CONNECT evil.test:443 HTTP/1.1\r\nHost: evil.test:443\r\n\r\n",
    b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: Upgrade\r\nUpgrade: websocket\r\n"
    b"Sec-WebSocket-Key: x\r\nSec-WebSocket-Version: 13\r\n\r\n",
    b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: Upgrade\r\nUpgrade: h2c\r\n\r\n",
    b"\x16\x03\x01\x02\x00\x01\x00",
]


@pytest.mark.parametrize("sent", NOISE, ids=["CONNECT", "websocket", "h2c", "TLS"])
def test_requests_for_another_protocol_write_nothing_into_the_log(
    trail_path: Path, sent: bytes, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setattr("server.web.idle_timeout.IDLE_TIMEOUT_S", 0.2)
    app = create_app(ServerSettings(trail=trail_path, on=ON))

    with caplog.at_level(logging.WARNING), TestClient(app):
        answer = in_own_thread(raw_answer(app, sent))
    assert not [each for each in caplog.records if each.name.startswith("uvicorn")]
    status = answer.split(b" ")[1][:3] if answer else b"closed"
    # An upgrade is not taken, and the request answered as if it had not been wished for.
    assert status in (b"200", b"400", b"404", b"405", b"421", b"closed")
