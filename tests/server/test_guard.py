"""Who may ask, from where, how much; and what an answer gives away."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
import pytest
from fastapi.testclient import TestClient

from layers import errors
from layers.errors import BoxroundError
from layers.maps.page import inline_hashes
from server.app import create_app
from server.settings import ServerSettings
from server.web.authentication.cookies import cookie_name
from server.web.host_check import MAX_BODY_BYTES
from server.web.problems import STATUS
from tests.server.conftest import HOST, ON, Process
from tests.server.team import make_team

PAGES = ("/", "/list", "/help", "/boxes/M05", "/boxes/M05/visit")


def every_error() -> set[type[BoxroundError]]:
    return {
        thing
        for thing in vars(errors).values()
        if isinstance(thing, type) and issubclass(thing, BoxroundError)
    }


def test_every_error_of_the_tree_has_a_status() -> None:
    assert set(STATUS) == every_error()
    for error, status in STATUS.items():
        if issubclass(error, errors.CallerError):
            assert 400 <= status < 500
        if issubclass(error, errors.EnvironmentFault):
            assert status >= 500


@pytest.mark.parametrize("host", ["evil.test", "evil.test:8000", "", "127.0.0.1.evil.test"])
def test_another_host_name_is_not_answered(client: TestClient, host: str) -> None:
    answer = client.get("/api/boxes", headers={"Host": host})
    assert answer.status_code == 421
    assert "M05" not in answer.text


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://evil.test"},
        {"Origin": "null"},
        {"Origin": "http://127.0.0.1:9999"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
    ],
)
def test_another_sites_form_saves_nothing(client: TestClient, headers: dict[str, str]) -> None:
    before = client.get("/health").json()["visits"]
    seen = {"date": "2026-06-02", "opened": "yes"}
    form = client.post("/boxes/M05/visit", data=seen, headers=headers)
    call = client.post("/api/visits", json=seen | {"box": "M05"}, headers=headers)
    assert (form.status_code, call.status_code) == (403, 403)
    assert client.get("/health").json()["visits"] == before


def test_a_body_too_long_is_refused(client: TestClient) -> None:
    answer = client.post("/api/visits", content=b"x" * (MAX_BODY_BYTES + 1))
    assert answer.status_code == 413


@pytest.mark.parametrize("page", PAGES)
def test_pages_carry_a_strict_policy_and_no_handlers(client: TestClient, page: str) -> None:
    answer = client.get(page)
    policy = answer.headers["content-security-policy"]
    assert "unsafe-inline" not in policy
    assert "frame-ancestors 'none'" in policy
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert not re.search(r"<[^>]*\s(style|on\w+)=", answer.text)
    scripts, styles = inline_hashes(answer.text)
    assert all(hashed in policy for hashed in (*scripts, *styles))
    assert "http://" not in re.sub(r'xmlns="[^"]*"', "", answer.text)


def test_tiles_requested_are_allowed_by_the_policy_and_none_else(trail_path: Path) -> None:
    tiles: Any = {"url": "https://tiles.invalid/{z}/{x}/{y}.png", "attribution": "Made up"}
    app = create_app(ServerSettings(trail=trail_path, on=ON, tiles=tiles))
    with TestClient(app, base_url=HOST) as client:
        policy = client.get("/").headers["content-security-policy"]
    assert "img-src 'self' data: https://tiles.invalid;" in policy


def test_an_unforeseen_error_gives_a_number_and_no_more(
    client: TestClient, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def fail(*_: object, **__: object) -> None:
        raise RuntimeError("secret /path/of/this/machine")

    monkeypatch.setattr("server.boxes.api.nests", fail)
    answer = client.get("/api/nests")
    assert answer.status_code == 500
    assert "secret" not in answer.text
    number = re.search(r"as ([0-9a-f]{8})", answer.json()["detail"])
    assert number is not None
    assert number[1] in caplog.text


def test_a_name_allowed_on_the_command_line_is_answered(
    start: Callable[..., Process], trail_path: Path
) -> None:
    mark, tokens = make_team(trail_path)
    server = start(trail_path, "--allow-host", "Field-laptop.local")
    cookie = f"{cookie_name(mark, secure=False)}={tokens['Wren']}"
    for host, status in (("field-laptop.local:8000", 200), ("other.local", 421)):
        answer = httpx.get(f"{server.address}/health", headers={"Host": host, "Cookie": cookie})
        assert answer.status_code == status


def test_people_get_a_page_and_programs_a_problem(client: TestClient) -> None:
    page = client.get("/boxes/Z9", headers={"Accept": "text/html"})
    problem = client.get("/boxes/Z9", headers={"Accept": "application/json"})
    assert page.headers["content-type"].startswith("text/html")
    assert "Expected the id of a box" in page.text
    assert problem.headers["content-type"] == "application/problem+json"


@pytest.mark.parametrize(
    "path", ["/static/../app.py", "/static/%2e%2e/app.py", "/static/map/..%2f..%2fpage.py"]
)
def test_no_path_leads_out_of_the_static_folders(client: TestClient, path: str) -> None:
    assert client.get(path).status_code == 404


def test_nothing_opens_before_the_app_starts(tmp_path: Path) -> None:
    app = create_app(ServerSettings(trail=tmp_path / "nowhere.gpkg"))
    with pytest.raises(errors.NotATrail, match="there is no file"), TestClient(app):
        pass
