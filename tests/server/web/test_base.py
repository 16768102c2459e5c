"""An app below a base answers as at the root of its host, with the base in every address."""

from __future__ import annotations

import json
import re
import shutil
from collections import deque
from collections.abc import Iterator
from datetime import UTC, datetime
from html import unescape
from pathlib import Path
from urllib.parse import urljoin, urlsplit

import pytest
from fastapi.testclient import TestClient

from server.app import create_app
from server.settings import ServerSettings
from server.web.authentication.roles import Role
from server.web.authentication.store import People
from server.web.authentication.tokens import new_token
from server.web.templating import static_folders
from tests.server.conftest import HOST, ON
from tests.server.team import TeamClient, make_team

BASE = "/t/alder-beck"

_ADDRESS = re.compile(r'\s(?:href|src|action|formaction|data-(?!base=)[\w-]+)="([^"]*)"')
_MOST_ALIKE = 3
"""Addresses requested that differ only in ids and in the values of their query."""


def opened(trail: Path, base: str = "") -> TestClient:
    app = create_app(ServerSettings(trail=trail, on=ON, busy_s=0.2))
    return TestClient(app, raise_server_exceptions=False, base_url=HOST, root_path=base)


@pytest.fixture
def trail(few_boxes: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(few_boxes, tmp_path / "few.gpkg"))


@pytest.fixture
def below(trail: Path) -> Iterator[TestClient]:
    with opened(trail, BASE) as client:
        yield client


def links(page: str, address: str) -> Iterator[str]:
    """Addresses on this host that a page names, without what is behind `#`."""
    for text in _ADDRESS.findall(page):
        found = urlsplit(urljoin(HOST + address, unescape(text)))
        beside = "/" not in text and text.endswith((".html", ".css", ".js", ".csv", ".svg"))
        is_address = beside or text.startswith(("/", "?", HOST))
        if is_address and f"{found.scheme}://{found.netloc}" == HOST:
            yield found.path + (f"?{found.query}" if found.query else "")


def plain(page: str) -> str:
    """A page without ids made for each request, and without the link to what is above a base."""
    page = page.replace('<a href="/start">Your trails</a>\n', "")
    return re.sub(r'value="[\w-]{36,}"', "", page)


def _alike(address: str) -> str:
    path, _, query = address.partition("?")
    names = sorted({part.partition("=")[0] for part in query.split("&")})
    return re.sub(r"[A-Z]\d\d|[0-9a-f-]{36}|\d+", "#", path) + "?" + "&".join(names)


@pytest.mark.parametrize("most", [8, pytest.param(None, marks=pytest.mark.long)])
def test_every_page_is_that_of_the_root_with_the_base_in_each_of_its_addresses(
    trail: Path, below: TestClient, most: int | None
) -> None:
    seen, alike, pages = {"/"}, dict[str, int](), 0
    waiting = deque(["/"])
    with opened(trail) as root:
        while waiting and pages != most:
            address = waiting.popleft()
            one, other = root.get(address), below.get(BASE + address)
            # Where a form is sent to may not be there to be read.
            assert one.status_code in (200, 405), address
            assert other.status_code == one.status_code, address
            assert other.headers["content-type"] == one.headers["content-type"], address
            if "html" not in one.headers["content-type"]:
                continue
            pages += 1
            assert plain(other.text).replace(BASE, "") == plain(one.text), address
            named = list(links(plain(other.text), BASE + address))
            assert [name.removeprefix(BASE) for name in named] == list(
                links(plain(one.text), address)
            )
            for name in named:
                assert name.startswith((f"{BASE}/", "/static/")), f"{name} on {address}"
                own = name.removeprefix(BASE)
                alike[_alike(own)] = alike.get(_alike(own), 0) + 1
                if own not in seen and alike[_alike(own)] <= _MOST_ALIKE:
                    seen.add(own)
                    waiting.append(own)
    assert pages == most or (most is None and pages > 40), pages


def test_a_redirect_a_cookie_and_a_link_of_json_have_the_base(trail: Path) -> None:
    mark, tokens = make_team(trail)
    now = datetime.now(UTC)
    with People.open_or_create(trail) as people:
        link = people.invite("Linnet", role=Role.WALKER, now=now, days=3).token
    with opened(trail, BASE) as client:
        sent_by = TeamClient(client, trail, mark, tokens).sent_by
        signed_in = client.post(
            f"{BASE}/sign-in",
            data={"code": link, "device": new_token()},
            headers=sent_by("nobody"),
            follow_redirects=False,
        )
        assert (signed_in.status_code, signed_in.headers["location"]) == (303, f"{BASE}/")
        assert f"Path={BASE};" in signed_in.headers["set-cookie"]
        client.cookies.clear()
        by_keeper = sent_by("Wren")
        listed = client.get(f"{BASE}/api/visits?limit=1", headers=by_keeper).json()
        assert listed["next"].startswith(f"{BASE}/api/visits?")
        problem = client.get(f"{BASE}/api/boxes/none", headers=by_keeper).json()
        assert problem["type"] == f"{BASE}/help#problem-404"
        slash = client.get(f"{BASE}/open", headers=by_keeper, follow_redirects=False)
        assert slash.headers["location"] == f"{HOST}{BASE}/open/"
        collections = client.get(f"{BASE}/ogc/collections", headers=by_keeper).json()
        for one in collections["links"]:
            assert one["href"].startswith(f"{HOST}{BASE}/ogc"), one
        key = client.post(f"{BASE}/people/keys", data={"kind": "calendar"}, headers=by_keeper)
        (calendar,) = re.findall(rf"{HOST}({BASE}/due\.ics\?token=[\w-]+)", key.text)
        assert client.get(calendar).text.startswith("BEGIN:VCALENDAR")


def test_outside_the_base_needs_a_key_as_at_the_root(trail: Path) -> None:
    make_team(trail)
    with opened(trail, BASE) as client:
        for address in ("/", "/due", "/due.ics", "/api/boxes", "/open/preview", "/ogc", "/none"):
            assert client.get(BASE + address).status_code == 401, address
        for address in ("/open/", "/open/ogc/collections", "/sign-in", "/static/web/site.css"):
            assert client.get(BASE + address).status_code == 200, address


def test_the_field_page_keeps_itself_below_the_base(below: TestClient) -> None:
    worker = below.get(f"{BASE}/field/worker.js")
    assert worker.headers["service-worker-allowed"] == f"{BASE}/field"
    shell = json.loads(worker.text.partition("self.SHELL = ")[2].partition(";\n")[0])
    assert (shell["base"], shell["page"]) == (BASE, f"{BASE}/field")
    for address in shell["files"]:
        assert address.startswith((f"{BASE}/field", "/static/"))
        assert below.get(address).status_code == 200, address
    manifest = below.get(f"{BASE}/field/manifest.webmanifest").json()
    assert {manifest[name] for name in ("id", "start_url", "scope")} == {f"{BASE}/field"}


def test_scripts_name_no_address_of_the_trail_without_the_base() -> None:
    bare = re.compile(r"""(?<!at\()["'`]/(?!static/|[*/"'`])[a-z-]+""")
    for folder in static_folders().values():
        for script in folder.rglob("*.js"):
            if "leaflet" in script.parts:
                continue
            for line in script.read_text(encoding="utf-8").splitlines():
                if line.startswith("//"):
                    continue
                assert not bare.search(line) or re.search(r"\bat\(|base \+ ", line), (
                    f"{script.name}: {line.strip()}"
                )
