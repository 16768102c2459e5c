"""A folder of trails on one host: each for its own people, and none in the way of another."""

from __future__ import annotations

import re
import shutil
import threading
import time
import uuid
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import httpx
import pytest
from fastapi.testclient import TestClient

from layers.trail.public_rules import PublicRules
from layers.trail.store import Trail
from server.serving.folder import FolderApp
from server.settings import ServerSettings
from server.web.authentication.cookies import cookie_name
from server.web.authentication.limits import Buckets
from server.web.authentication.roles import Role
from server.web.authentication.store import People
from server.web.authentication.tokens import new_token
from server.web.base import below
from tests.bench.many_trails import TRAILS, copies, measured
from tests.server.conftest import ON, Process
from tests.server.team import make_team
from tests.server.test_roles import TABLE, Line

ORIGIN = "https://region.example"
ABSENT = "cedar"


@dataclass(frozen=True)
class Region:
    """A folder as its server has it, and the devices of each trail's team."""

    client: TestClient
    app: FolderApp
    folder: Path
    marks: dict[str, str]
    tokens: dict[str, dict[str, str]]

    def cookie(self, trail: str, who: str, *, of: str | None = None) -> str:
        """What a browser sends to `trail` with the key that a person has for it, or for `of`."""
        with below(f"/t/{trail}"):
            name = cookie_name(self.marks.get(trail, ""), secure=True)
        return f"{name}={self.tokens[of or trail][who]}"

    def ask(self, trail: str, line: Line, cookie: str) -> Any:
        return self.client.request(
            line.method.replace("MOUNT", "GET"),
            f"/t/{trail}{line.ask}",
            headers={"Origin": ORIGIN, "Cookie": cookie},
            follow_redirects=False,
            **line.body,
        )


@pytest.fixture
def region(few_boxes: Path, tmp_path: Path) -> Iterator[Region]:
    """Two whole trails, one of them closed to the public, and one that is cut off."""
    folder = tmp_path / "region"
    folder.mkdir()
    marks, tokens = {}, {}
    for name in ("alder", "birch", "broken"):
        path = Path(shutil.copy(few_boxes, folder / f"{name}.gpkg"))
        marks[name], tokens[name] = make_team(path)
    with Trail.open(folder / "birch.gpkg") as trail:
        trail.change_settings(name="Birch", public_rules=PublicRules(open="no"))
    whole = (folder / "broken.gpkg").read_bytes()
    (folder / "broken.gpkg").write_bytes(whole[: len(whole) // 3])
    app = FolderApp(ServerSettings(trail=folder, on=ON, public_url=ORIGIN, busy_s=0.2), most=2)
    with TestClient(app, base_url=ORIGIN, raise_server_exceptions=False) as client:
        yield Region(client, app, folder, marks, tokens)


@pytest.fixture
def patient(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Buckets, "take", lambda *_, **__: 0)


def without_chance(text: str, trail: str) -> str:
    """An answer without the trail's name in addresses, and without ids made for each request."""
    return re.sub(r'value="[\w-]{36,}"', "", text.replace(f"/t/{trail}", ""))


@pytest.mark.usefixtures("patient")
@pytest.mark.parametrize("step", [9, pytest.param(1, marks=pytest.mark.long)])
def test_a_person_of_one_trail_gets_nothing_of_another_nor_learns_that_it_is_there(
    region: Region, step: int
) -> None:
    for line in TABLE[::step]:
        if line.method == "MOUNT" and line.route.startswith("/static"):
            continue
        # The keeper of alder, with all that her browser holds, sent to birch.
        cookie = region.cookie("birch", "Wren", of="alder") + "; " + region.cookie("alder", "Wren")
        answer = region.ask("birch", line, cookie)
        assert answer.status_code == line.expected["outsider"], line
        for other in (ABSENT, "broken"):
            absent = region.ask(other, line, cookie)
            assert absent.status_code == answer.status_code, f"{line.ask} of {other}"
            assert without_chance(absent.text, other) == without_chance(answer.text, "birch"), line


@pytest.mark.usefixtures("patient")
def test_who_belongs_to_two_trails_is_in_each_what_they_are_there(region: Region) -> None:
    invite = next(line for line in TABLE if line.route == "/people/invite")
    page = next(line for line in TABLE if line.route == "/due")
    for trail, who, expected in (("alder", "Robin", 403), ("birch", "Wren", 200)):
        assert region.ask(trail, page, region.cookie(trail, who)).status_code == 200
        assert region.ask(trail, invite, region.cookie(trail, who)).status_code == expected


def test_a_broken_file_is_reported_to_its_own_team_and_touches_no_other(region: Region) -> None:
    health = next(line for line in TABLE if line.route == "/health")
    before = region.ask("alder", health, region.cookie("alder", "Wren"))
    report = region.ask("broken", health, region.cookie("broken", "Wren"))
    assert report.status_code == 503
    assert "broken.gpkg" in report.json()["detail"]
    after = region.ask("alder", health, region.cookie("alder", "Wren"))
    assert (before.status_code, after.status_code, after.text) == (200, 200, before.text)
    # Put right, it is served without a new start.
    shutil.copy(region.folder / "alder.gpkg", region.folder / "broken.gpkg")
    assert region.ask("broken", health, region.cookie("broken", "Wren")).status_code == 200


def test_the_first_page_lists_a_persons_own_trails_and_what_is_due_there(region: Region) -> None:
    client = region.client
    assert "not signed in" in client.get("/").text
    now = datetime.now(UTC)
    with People.open(region.folder / "birch.gpkg") as people:
        link = people.invite("Linnet", role=Role.WALKER, now=now, days=3).token
    form = {"code": link, "device": new_token()}
    headers = {"Origin": ORIGIN}
    signed_in = client.post("/t/birch/sign-in", data=form, headers=headers)
    assert signed_in.status_code == 200
    due = client.get("/t/birch/api/due").json()
    page = client.get("/start")
    assert page.headers["cache-control"] == "no-store"
    assert 'href="/t/birch/">Birch</a>' in page.text
    assert f'href="/t/birch/due">{len(due)} boxes</a>' in page.text
    assert "alder" not in page.text
    # Seen again from memory, until the person's access ends.
    assert client.get("/start").text == page.text
    with People.open(region.folder / "birch.gpkg") as people:
        people.revoke("Linnet", now=now)
    assert "not signed in" in client.get("/start").text
    client.post("/t/birch/sign-out", headers=headers)


def test_trails_share_the_room_and_what_one_answered_is_given_for_no_other(region: Region) -> None:
    page = next(line for line in TABLE if line.route == "/")
    shutil.copy(region.folder / "alder.gpkg", region.folder / "dogwood.gpkg")
    region.marks["dogwood"], region.tokens["dogwood"] = make_team(region.folder / "dogwood.gpkg")
    for _ in range(2):
        for trail in ("alder", "birch", "dogwood"):
            text = region.ask(trail, page, region.cookie(trail, "Wren")).text
            assert f"/t/{trail}/map/base" in text
            assert set(re.findall(r"/t/(\w+)", text)) == {trail}
            assert len(region.app.trails) <= 2


def test_an_address_without_its_slash_leads_to_the_trail(region: Region) -> None:
    answer = region.client.get("/t/alder?x=1", follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (307, "/t/alder/?x=1")
    assert region.client.get("/elsewhere").status_code == 404
    assert region.client.get("/static/web/site.css").status_code == 200
    other = region.client.get("/t/alder/", headers={"Host": "evil.example"})
    assert other.status_code == 421


def test_who_is_of_no_team_opens_no_trail_but_by_its_public_pages(region: Region) -> None:
    for line in TABLE:
        if line.expected["public"] == 401:
            assert region.ask("alder", line, "").status_code == 401, line
    assert len(region.app.trails) == 0
    assert region.client.get("/t/alder/open/").status_code == 200
    assert len(region.app.trails) == 1


KILLED = [f"trail{number}" for number in range(10)]


@pytest.mark.long
def test_a_hundred_kills_under_load_over_ten_trails_lose_no_acknowledged_visit(
    start: Callable[..., Process], few_boxes: Path, tmp_path: Path
) -> None:
    for name in KILLED:
        shutil.copy(few_boxes, tmp_path / f"{name}.gpkg")
    server = start(tmp_path, "--on", str(ON))
    current = [server.address]
    acknowledged: dict[str, set[str]] = {name: set() for name in KILLED}
    done = threading.Event()

    def post_on(name: str, own: set[str]) -> None:
        while not done.is_set():
            visit_id = str(uuid.uuid4())
            visit = {"visit_id": visit_id, "box": "M05", "date": "2026-06-02", "eggs": 1}
            while not done.is_set():
                try:
                    at = f"{current[0]}/t/{name}/api/visits"
                    answer = httpx.post(at, json=visit, timeout=20)
                except httpx.HTTPError:
                    time.sleep(0.02)
                    continue
                if answer.status_code in (200, 201):
                    own.add(visit_id)
                    break

    clients = [
        threading.Thread(target=post_on, args=(name, own)) for name, own in acknowledged.items()
    ]
    for client in clients:
        client.start()
    try:
        for _ in range(100):
            before = sum(map(len, acknowledged.values()))
            while sum(map(len, acknowledged.values())) < before + 20:
                assert server.running
                time.sleep(0.01)
            server.kill()
            server = start(tmp_path, "--on", str(ON))
            current[0] = server.address
    finally:
        # Clients that went on would keep a failed test from ending.
        done.set()
        for client in clients:
            client.join()
    server.stop()
    for name, own in acknowledged.items():
        assert own, name
        with Trail.open(tmp_path / f"{name}.gpkg") as trail:
            stored = [row["visit_id"] for row in trail.visit_rows()]
        assert own <= set(stored), name
        assert len(stored) == len(set(stored)), name


@pytest.mark.long
@pytest.mark.skipif(not Path("/proc/self/fd").exists(), reason="handles are counted as on Linux")
def test_two_hundred_trails_take_few_handles_and_little_memory(tmp_path: Path) -> None:
    found = measured(tmp_path / "region", copies(tmp_path / "region", TRAILS))
    assert found.handles < 256
    assert found.in_use_mb < 1500
    assert found.end_mb < 1500
