"""The public app: only reads, only what a view holds, and says how it may be used."""

from __future__ import annotations

import datetime as dt
import re
import socket
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import httpx
import pytest
from fastapi.testclient import TestClient
from starlette.types import ASGIApp

from layers.errors import NotATrail
from layers.publishing import PublicView
from layers.trail.public_rules import PublicRules
from layers.trail.store import Trail
from server.public.app import OpenApp
from server.public.site import site
from tests.publishing.planted import planted
from tests.server.conftest import Process
from tests.test_rooms import imported

HOST = "http://127.0.0.1"
OPEN = Path(__file__).parent.parent.parent.parent / "server" / "public"
GIVES_A_VIEW = {"__init__.py", "command.py", "mounted.py", "port.py"}
"""Modules that open a trail, and hand the app nothing but a view of it."""
AFTER = dt.date(2026, 12, 1)
VIEW = planted().view(AFTER, PublicRules(name="Alderbeck boxes", licence="CC BY 4.0"))


def opened(app: ASGIApp) -> TestClient:
    return TestClient(app, base_url=HOST)


@pytest.fixture
def pages() -> TestClient:
    return opened(OpenApp(lambda: VIEW))


def test_the_public_app_can_reach_no_trail() -> None:
    # Errors, the view, and what sends bytes: nothing that could open or hold a trail. Words of
    # days and the joined script are by themselves: they import nothing of ours.
    alone = ("layers.words", "layers.maps.bundle")
    # The guide's drawings of nests and eggs: neither opens a file of a trail.
    guide = ("layers.maps.key_drawing", "layers.nesting.guide")
    loaded = subprocess.run(
        [sys.executable, "-c", f"import sys, {', '.join(guide)}; print(*sys.modules)"],
        capture_output=True,
        text=True,
        check=True,
    ).stdout.split()
    assert {"layers.trail.store", "layers.trail.connection", "sqlite3"}.isdisjoint(loaded)
    allowed = ("layers.errors", "layers.publishing", "server.public", *alone, *guide)
    modules = [path for path in sorted(OPEN.rglob("*.py")) if path.name not in GIVES_A_VIEW]
    assert len(modules) > 5
    for name in alone:
        used = imported(OPEN.parent.parent / f"{name.replace('.', '/')}.py")
        assert {"layers", "server"}.isdisjoint(one.split(".")[0] for one in used)
    for path in modules:
        for name in imported(path):
            if name.split(".")[0] in ("layers", "server"):
                assert name.startswith(allowed), f"{path.name} imports {name}"


@pytest.mark.parametrize("name", site(VIEW))
def test_every_file_is_served_as_it_is_in_the_site(pages: TestClient, name: str) -> None:
    answer = pages.get(f"/{name}")
    assert answer.status_code == 200
    assert answer.content == site(VIEW)[name]()
    assert answer.headers["content-type"].split(";")[0] in {
        "text/html",
        "text/css",
        "text/javascript",
        "text/csv",
        "text/plain",
        "image/svg+xml",
        "image/png",
        "application/geo+json",
        "application/json",
    }


def test_the_map_is_at_the_root_and_the_embedded_one_at_embed(pages: TestClient) -> None:
    assert pages.get("/").content == pages.get("/index.html").content
    assert pages.get("/embed").content == pages.get("/embed.html").content


def test_only_the_embedded_map_may_be_framed(pages: TestClient) -> None:
    for name in site(VIEW):
        policy = pages.get(f"/{name}").headers["content-security-policy"]
        may_be_framed = policy.endswith("frame-ancestors *")
        assert may_be_framed == (name == "embed.html")
        assert "unsafe" not in policy
        assert "x-frame-options" not in pages.get(f"/{name}").headers


@pytest.mark.parametrize("method", ["POST", "PUT", "PATCH", "DELETE", "OPTIONS"])
def test_nothing_can_be_changed(pages: TestClient, method: str) -> None:
    answer = pages.request(method, "/", content=b"x" * 1000)
    assert answer.status_code == 405
    assert answer.headers["allow"] == "GET, HEAD"


@pytest.mark.parametrize(
    "path",
    ["/nothing", "/api/boxes", "/..%2f..%2fetc/passwd", "/%2e%2e/app.py", "/%2Findex.html", "/%00"],
)
def test_what_is_no_public_file_is_not_found(pages: TestClient, path: str) -> None:
    answer = pages.get(path)
    assert answer.status_code == 404
    assert answer.text == "There is nothing here."


def test_parameters_and_cookies_make_no_difference(pages: TestClient) -> None:
    plain = pages.get("/list.html")
    other = pages.get("/list.html?season=1&x=<b>", headers={"Cookie": "a=b"})
    assert other.content == plain.content
    assert "set-cookie" not in other.headers


def test_a_trail_that_cannot_be_read_gives_no_internals_away() -> None:
    def broken() -> PublicView:
        raise NotATrail("/home/keeper/secret.gpkg is damaged")

    answer = opened(OpenApp(broken)).get("/")
    assert answer.status_code == 503
    assert answer.text == "The trail cannot be read now."


def test_files_are_made_once_for_a_view_and_anew_for_another() -> None:
    views = [VIEW]
    client = opened(OpenApp(lambda: views[-1]))
    before = client.get("/cells.csv")
    views.append(planted().view(AFTER, PublicRules(coarse_cell=1.0)))
    after = client.get("/cells.csv")
    assert before.headers["etag"] != after.headers["etag"]
    assert before.content != after.content


def test_text_of_the_trail_is_escaped_on_every_page() -> None:
    hostile = "<script>alert(1)</script>\"'&"
    rules = PublicRules(licence=hostile, name=hostile, region=hostile, contact=hostile)
    view = planted().view(AFTER, rules)
    assert view.trail == view.region == view.contact == hostile
    for name, make in site(view).items():
        if name.endswith(".html"):
            assert b"<script>alert" not in make(), name


def test_pages_name_where_they_are_only_where_it_is_known() -> None:
    at = site(VIEW, address="https://example.org/trail/")["index.html"]().decode()
    assert '<meta property="og:image" content="https://example.org/trail/card.png">' in at
    assert '<meta property="og:url" content="https://example.org/trail/index.html">' in at
    assert "og:image" not in site(VIEW)["index.html"]().decode()
    assert '<meta property="og:title" content="Alderbeck boxes">' in at


# On the team's server, and on a port of its own


def free_port() -> int:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        port: int = found.getsockname()[1]
    return port


@pytest.fixture
def team(client: TestClient) -> Iterator[TestClient]:
    yield client


def test_the_teams_server_has_the_public_pages_below_open(team: TestClient) -> None:
    assert team.get("/open/").status_code == 200
    assert str(team.get("/open").url) == f"{HOST}/open/"
    assert team.get("/open/cells.csv").text.startswith("cell,size_deg")
    assert team.get("/open/boxes/A01").status_code == 404


def test_a_public_answer_is_cached_by_a_hash_of_its_body(
    team: TestClient, trail_path: Path
) -> None:
    before = team.get("/open/cells.csv").headers["etag"]
    with Trail.open(trail_path) as trail:
        version = trail.version()
        box = trail.rows("SELECT box FROM boxes WHERE public = 'hidden'")[0][0]
        trail.add_rows("visits", [{"visit_id": "v", "box": box, "seen_on": "2026-06-02"}])
        assert trail.version() > version
    again = team.get("/open/cells.csv", headers={"If-None-Match": before})
    assert again.status_code == 304
    assert again.headers["etag"] == before


def test_marks_show_with_the_next_release_and_closing_shows_at_once(
    team: TestClient, trail_path: Path
) -> None:
    before = team.get("/open/cells.csv").text
    assert len(before.splitlines()) > 1
    with Trail.open(trail_path) as trail:
        trail.mark_boxes(dict.fromkeys(trail.box_ids(), "hidden"))
    assert team.get("/open/cells.csv").text == before
    with Trail.open(trail_path) as trail:
        trail.change_settings(public_rules=PublicRules(open="no"))
    assert len(team.get("/open/cells.csv").text.splitlines()) == 1


def test_the_keeper_tries_rules_before_anything_is_published(
    team: TestClient, trail_path: Path
) -> None:
    public = team.get("/open/").text
    tried = team.get("/open/preview?cell=0.001&unmarked=shown&released=")
    assert tried.headers["cache-control"] == "no-store"
    assert "Strangers will know" in tried.text
    assert "in the median" in tried.text
    assert re.findall(r"Squares of [\d.]+°", tried.text)[:2] == [
        "Squares of 0.001°",
        "Squares of 0.01°",
    ]
    page = team.get("/open/preview/index.html?cell=0.001&coarse_cell=0.001")
    assert "0.001°" in page.text
    assert team.get("/open/preview/map.js").headers["content-type"].startswith("text/javascript")
    assert team.get("/open/preview?cell=3").status_code == 422
    assert team.get("/open/preview/nothing").status_code == 404
    assert team.get("/open/").text == public


def test_embed_is_the_page_for_other_sites(pages: TestClient) -> None:
    for address in ("/?embed", "/index.html?embed"):
        answer = pages.get(address)
        assert answer.content == pages.get("/embed.html").content
        assert answer.headers["content-security-policy"].endswith("frame-ancestors *")


def test_a_closed_trail_says_so_and_shows_nothing(team: TestClient, trail_path: Path) -> None:
    with Trail.open(trail_path) as trail:
        trail.change_settings(public_rules=PublicRules(open="no"))
    page = team.get("/open/").text
    assert "show nothing of it to the public" in page
    assert "<table" not in page


def test_the_public_port_has_the_public_pages_and_nothing_else(
    start: Callable[..., Process], trail_path: Path
) -> None:
    port = free_port()
    public = f"{HOST}:{port}"
    process = start(trail_path, "--public-port", str(port), "--on", "2026-06-03")
    with httpx.Client(base_url=public, timeout=60) as client:
        page = client.get("/")
        assert page.status_code == 200
        assert page.headers["content-encoding"] == "gzip"
        team = httpx.get(f"{process.address}/open/", timeout=60)
        assert page.content == team.content
        for path in (
            "/list",
            "/api/boxes",
            "/map/base",
            "/openapi.json",
            "/health",
            "/static/web/site.css",
        ):
            assert client.get(path).status_code == 404
    assert process.stop() == 0
    with pytest.raises(httpx.ConnectError):
        httpx.get(public)
