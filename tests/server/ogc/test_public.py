"""The public feature service: nothing gets out that the public view does not hold."""

from __future__ import annotations

import datetime as dt
import shutil
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from fastapi.testclient import TestClient

from layers.publishing import PublicView
from layers.trail.public_rules import PublicRules
from layers.trail.store import Trail
from server.app import create_app
from server.command import main
from server.exporting.command import WRITERS
from server.ogc.public import WithFeatures
from server.settings import ServerSettings
from server.web.authentication.cookies import cookie_name
from tests.publishing.leaks import secrets_of
from tests.publishing.planted import planted, write
from tests.publishing.scanner import Secrets, crawl, findings
from tests.server.ogc.doors import HTML, JSON, Door, linked
from tests.server.team import make_team

BOXES = 40
ON = dt.date(2026, 6, 3)
RULES = PublicRules(
    ongoing="in use",
    coarse_species=("black-capped chickadee",),
    withheld_species=("great crested flycatcher",),
    licence="CC BY 4.0",
)
HOST = "http://127.0.0.1"


@pytest.fixture(scope="module")
def trail(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write(tmp_path_factory.mktemp("public") / "trail.gpkg", planted(BOXES), RULES)


@pytest.fixture(scope="module")
def client(trail: Path) -> Iterator[TestClient]:
    with TestClient(create_app(ServerSettings(trail=trail, on=ON)), base_url=HOST) as opened:
        yield opened


def secrets(on: dt.date) -> Secrets:
    """What must not get out; first and last days of months are published as such."""
    every = secrets_of(planted(BOXES), RULES, on)
    edges = {day for day in every.days if 1 in (day.day, (day + dt.timedelta(1)).day)}
    return replace(every, days=every.days - edges)


def scanned(found: dict[str, bytes]) -> str:
    """What a scan of what is not public finds; ids such as `1e300` are large numbers there."""
    with np.errstate(all="ignore"):
        return "\n".join(findings(found, secrets(ON)))


def bodies(door: Door) -> dict[str, bytes]:
    """Every answer of a feature service in both forms, headers too."""
    found: dict[str, bytes] = {}

    def keep(path: str, accept: str) -> None:
        answer = door.get(path, accept=accept)
        found[f"{path} as {accept}"] = answer.content + str(answer.headers).encode()

    waiting = ["", "/api", "/conformance", "/collections", "/no-such-thing"]
    for name in door.names():
        base = f"/collections/{name}"
        waiting += [base, f"{base}/schema", f"{base}/items", f"{base}/items?limit=0"]
        waiting += [f"{base}/items/{one['id']}" for one in door.features(name, limit=1000)[:3]]
        pages = door.pages(f"{base}/items", limit=1000)
        waiting += [following for page in pages if (following := linked(page, "next"))]
    for path in waiting:
        for accept in (JSON, HTML):
            keep(path, accept)
    return found


def test_a_scan_of_the_public_service_finds_nothing(client: TestClient) -> None:
    found = bodies(Door(client, f"{HOST}/open/ogc"))
    assert len(found) > 40
    assert findings(found, secrets(ON)) == []


def test_the_same_scan_of_the_teams_service_finds_every_kind_of_secret(client: TestClient) -> None:
    told = scanned(bodies(Door(client, f"{HOST}/ogc")))
    assert "finer than its grid" in told
    assert "day 2026-05" in told
    assert "Wilhelmina Oakapple" in told


@pytest.mark.parametrize("ending", WRITERS)
@pytest.mark.parametrize("on", [ON, dt.date(2026, 12, 1)])
def test_a_scan_of_every_public_file_finds_nothing(
    trail: Path, tmp_path: Path, ending: str, on: dt.date
) -> None:
    tables = ("cells", "nests", "paths") if ending in (".csv", ".geojson") else ("cells",)
    for table in tables:
        target = tmp_path / f"{table}{ending}"
        asked = ["export", str(trail), "--public", "-o", str(target), "--on", on.isoformat()]
        assert main([*asked, *(["--table", table] if len(tables) > 1 else [])]) == 0
    written = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    assert findings(written, secrets(on)) == []


def test_the_same_scan_of_a_full_file_finds_secrets(trail: Path, tmp_path: Path) -> None:
    for ending in WRITERS:
        target = tmp_path / f"full{ending}"
        assert main(["export", str(trail), "--full", "-o", str(target)]) == 0
        assert scanned({ending: target.read_bytes()}), ending


def test_a_visit_to_a_hidden_box_changes_no_public_answer(trail: Path, client: TestClient) -> None:
    door = Door(client, f"{HOST}/open/ogc")
    stamps = ("timeStamp",)

    def told() -> list[object]:
        pages = [door.told(f"/collections/{name}/items") for name in door.names()]
        return [
            door.told("/collections"),
            *({k: v for k, v in page.items() if k not in stamps} for page in pages),
        ]

    before = told()
    hidden = next(row["box"] for row in planted(BOXES).box_rows if row["public"] == "hidden")
    with Trail.open(trail) as opened:
        opened.add_rows("visits", [{"box": hidden, "seen_on": "2026-05-30", "eggs": 5}])
    assert told() == before


def test_public_pages_link_to_public_pages_alone(client: TestClient) -> None:
    start = f"{HOST}/open/ogc?f=html"
    found = crawl(client, [start], below=HOST)
    crawled = crawl(client, ["/open/ogc?f=html", "/open/ogc/collections?f=html"], below="/")
    for name, body in {**found.bodies, **crawled.bodies}.items():
        assert b'href="/' not in body, name
        assert f'"{HOST}/ogc'.encode() not in body, name


def test_an_empty_or_closed_view_is_served_in_words(tmp_path: Path) -> None:
    closed = write(tmp_path / "trail.gpkg", planted(8), PublicRules(open="no"))
    app = create_app(ServerSettings(trail=closed, on=ON))
    with TestClient(app, base_url=HOST) as opened:
        door = Door(opened, f"{HOST}/open/ogc")
        assert "show nothing" in door.told()["description"]
        for name in door.names():
            assert door.told(f"/collections/{name}/items")["numberMatched"] == 0
            assert "No feature" in door.get(f"/collections/{name}/items", f="html").text


def test_the_public_service_sends_its_own_headers_and_only_reads(client: TestClient) -> None:
    answer = client.get("/open/ogc")
    assert answer.headers["access-control-allow-origin"] == "*"
    assert "default-src 'none'" in answer.headers["content-security-policy"]
    assert client.head("/open/ogc").status_code == 200
    assert client.head("/open/ogc").content == b""
    assert client.delete("/open/ogc").status_code == 405
    assert client.get("/open/ogc/collections/visits").status_code == 404


def test_links_carry_the_public_address(trail: Path, tmp_path: Path) -> None:
    own = Path(shutil.copy(trail, tmp_path / "trail.gpkg"))
    mark, tokens = make_team(own)
    settings = ServerSettings(trail=own, on=ON, public_url="https://trail.example.org/")
    with TestClient(create_app(settings), base_url=HOST) as opened:
        walker = {"Cookie": f"{cookie_name(mark, secure=True)}={tokens['Robin']}"}
        for root in ("/ogc", "/open/ogc"):
            told = opened.get(root, headers=walker).json()
            for link in told["links"]:
                assert link["href"].startswith(f"https://trail.example.org{root}")


def test_released_ground_is_given_and_nothing_else_of_it(tmp_path: Path) -> None:
    # A trail with one coarse box has no ground: all are shown here.
    rules = PublicRules(released=("paths", "places", "zones"))
    rows = [row | {"public": "shown"} for row in planted(8).box_rows]
    shown = replace(planted(8), box_rows=tuple(rows))
    app = create_app(ServerSettings(trail=write(tmp_path / "t.gpkg", shown, rules), on=ON))
    with TestClient(app, base_url=HOST) as opened:
        door = Door(opened, f"{HOST}/open/ogc")
        view = app.state.public_views()
        for name in ("paths", "places", "zones"):
            found = door.features(name)
            assert len(found) == len(getattr(view, name)) > 0
            assert all(one["properties"].keys() == {"name", "kind"} for one in found)


async def _nothing(*_: object) -> None:
    raise AssertionError("another app was asked")


def test_the_service_runs_alone_where_nothing_is_mounted(trail: Path) -> None:
    view: list[PublicView] = []
    with TestClient(create_app(ServerSettings(trail=trail, on=ON)), base_url=HOST) as opened:
        view.append(opened.app.state.public_views())  # type: ignore[attr-defined]
    alone = TestClient(WithFeatures(_nothing, lambda: view[0]), base_url=HOST)
    assert linked(alone.get("/ogc").json(), "data") == f"{HOST}/ogc/collections?f=json"
    assert alone.get("/ogc/look.css").headers["content-type"].startswith("text/css")
