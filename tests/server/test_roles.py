"""Every address in every role, from one table; an address that is not in it fails the test."""

from __future__ import annotations

import shutil
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from fastapi.routing import iter_route_contexts
from starlette.routing import BaseRoute

from server.app import create_app
from server.settings import ServerSettings
from server.web.authentication.limits import Buckets
from server.web.authentication.middleware import CALENDARS, is_public
from server.web.authentication.roles import ONLY_READ
from server.web.templating import static_folders
from tests.server.team import TeamClient

ROLES = {
    "public": "nobody",
    "outsider": "stranger",
    "revoked": "Rook",
    "expired": "Swift",
    "walker": "Robin",
    "keeper": "Wren",
}
"""Role -> who of the team's fixture asks: without a key, with a made-up one, with their own."""

OUTSIDE = ("public", "outsider", "revoked", "expired")


@dataclass(frozen=True)
class Line:
    """One address, how it is asked, and what each role is answered."""

    method: str
    route: str
    ask: str
    expected: dict[str, int]
    body: dict[str, Any] = field(default_factory=dict)


def team(
    method: str, route: str, ask: str = "", *, walker: int = 200, keeper: int = 200, **body: Any
) -> Line:
    """For the team: whoever is outside is answered 401, whatever they ask."""
    expected = dict.fromkeys(OUTSIDE, 401) | {"walker": walker, "keeper": keeper}
    return Line(method, route, ask or route, expected, body)


def public(method: str, route: str, ask: str = "", *, status: int = 200, **body: Any) -> Line:
    """For anybody."""
    return Line(method, route, ask or route, dict.fromkeys(ROLES, status), body)


def files(route: str, ask: str) -> Line:
    return public("MOUNT", route, ask)


TABLE = [
    # To sign in and out. A code that does not open is answered 403.
    public("GET", "/sign-in"),
    public("POST", "/sign-in", status=403, data={"code": "wrong", "device": "d"}),
    *(
        files(f"/static/{name}", f"/static/{name}/{min(folder.glob('*.*')).name}")
        for name, folder in static_folders().items()
    ),
    files("/open", "/open/"),
    # Pages.
    team("GET", "/"),
    team("GET", "/list"),
    team("GET", "/help"),
    team("GET", "/help/{name}", "/help/backups"),
    team("GET", "/due"),
    team("GET", "/round"),
    team("GET", "/round/sheet", "/round/sheet?boxes=M05"),
    team("GET", "/round/code.svg", "/round/code.svg?boxes=M05"),
    team("GET", "/field"),
    team("GET", "/field/day"),
    team("GET", "/field/key"),
    team("GET", "/field/walker"),
    team("GET", "/field/page.css"),
    team("GET", "/field/page.js"),
    team("GET", "/field/worker.js"),
    team("GET", "/field/manifest.webmanifest"),
    team("GET", "/week"),
    team("GET", "/week.ics", "/week.ics?free=Ann:+Wed+60"),
    team("GET", "/winter"),
    team("GET", "/site"),
    team("GET", "/boxes/{box:path}", "/boxes/M05"),
    team("GET", "/boxes/{box:path}/card", "/boxes/M05/card"),
    team("GET", "/boxes/{box:path}/visit", "/boxes/M05/visit"),
    team(
        "POST",
        "/boxes/{box:path}/visit",
        "/boxes/M05/visit",
        walker=303,
        keeper=303,
        data={"date": "2026-06-02", "opened": "yes"},
    ),
    team("GET", "/visits/{visit_id}/history", "/visits/{visit}/history", walker=403),
    team(
        "POST",
        "/visits/{visit_id}/withdraw",
        "/visits/{visit}/withdraw",
        walker=403,
        keeper=303,
        data={"withdrawal_id": "5b0c6f5e-6d0e-4e4c-9f0a-1f4b8f0a7c11"},
    ),
    # A keeper's own spreadsheet: no file waits, and nothing was imported under this id.
    team("GET", "/import", walker=403),
    team("POST", "/import", walker=403, keeper=422, data={"file": ""}),
    team("GET", "/import/remove", walker=403),
    team("POST", "/import/remove/{kind}", "/import/remove/boxes", walker=403, keeper=422),
    team("GET", "/import/{draft_id}", "/import/none", walker=403, keeper=404),
    team("POST", "/import/{draft_id}/answers", "/import/none/answers", walker=403, keeper=404),
    team("POST", "/import/{draft_id}/add", "/import/none/add", walker=403, keeper=404),
    team("POST", "/import/{draft_id}/remove", "/import/none/remove", walker=403, keeper=404),
    team("POST", "/imports/{import_id}/withdraw", "/imports/none/withdraw", walker=403, keeper=404),
    team("GET", "/open/preview", walker=403),
    team("GET", "/open/preview/{name}", "/open/preview/index.html", walker=403),
    team("GET", "/people"),
    team("POST", "/people/invite", walker=403, data={"name": "Siskin", "role": "walker"}),
    team("POST", "/people/revoke", walker=403, keeper=303, data={"name": "Siskin"}),
    team("POST", "/people/keys", data={"kind": "program"}),
    team("POST", "/people/keys/forget", walker=303, keeper=303, data={"key": "999999"}),
    # The map's data.
    team("GET", "/map/base"),
    team("GET", "/map/season/{season}", "/map/season/2026"),
    team("GET", "/map/due"),
    team("GET", "/map/ground"),
    team("GET", "/map/background", "/map/background?west=-78&south=42&east=-77&north=43"),
    team(
        "GET",
        "/map/background/{version}/{tile}",
        "/map/background/none/1-0-0",
        walker=204,
        keeper=204,
    ),
    # Calls.
    team("GET", "/api/key"),
    team("GET", "/api/boxes"),
    team("GET", "/api/boxes/{box:path}", "/api/boxes/M05"),
    team("GET", "/api/nests"),
    team("GET", "/api/visits"),
    team(
        "POST",
        "/api/visits",
        walker=201,
        keeper=201,
        json={"box": "M06", "date": "2026-06-02", "eggs": 1},
    ),
    team("POST", "/api/visits/questions", json={"box": "M06", "date": "2026-06-02", "eggs": 1}),
    team("GET", "/api/due"),
    team("GET", "/api/near", "/api/near?lat=42.6&lon=-77.9"),
    team("GET", "/api/round", "/api/round?boxes=M05"),
    team("GET", "/api/week", "/api/week?free=Ann:+Wed+60"),
    team("GET", "/api/winter"),
    team("GET", "/api/site", "/api/site?lat=42.6&lon=-77.9"),
    team("GET", "/api/site/room", "/api/site/room?species=wood+duck"),
    team("GET", "/due.ics"),
    team("GET", "/health"),
    team("GET", "/openapi.json"),
    team("GET", "/season"),
    team("GET", "/season/tables/{name}.csv", "/season/tables/boxes.csv"),
    team("GET", "/season/plots/{name}.svg", "/season/plots/weeks.svg"),
    team("GET", "/api/season"),
    # The standard door.
    team("GET", "/ogc"),
    team("GET", "/ogc/api"),
    team("GET", "/ogc/conformance"),
    team("GET", "/ogc/collections"),
    team("GET", "/ogc/collections/{name}", "/ogc/collections/boxes"),
    team("GET", "/ogc/collections/{name}/schema", "/ogc/collections/boxes/schema"),
    team("GET", "/ogc/collections/{name}/items", "/ogc/collections/boxes/items"),
    team(
        "GET", "/ogc/collections/{name}/items/{feature_id:path}", "/ogc/collections/boxes/items/M05"
    ),
    # Last, as it ends the key with which it is asked.
    team("POST", "/sign-out", walker=303, keeper=303),
]


def addresses(routes: Iterable[BaseRoute], *, below: str = "") -> Iterator[tuple[str, str]]:
    """Method and address of every route, also of apps mounted below."""
    for route in iter_route_contexts(list(routes)):
        path = below + (route.path or "")
        methods = getattr(route, "methods", None) or set()
        for method in methods - {"HEAD", "OPTIONS"}:
            yield method, path
        if methods:
            continue
        inner = getattr(getattr(route, "app", None), "routes", None)
        if inner:
            yield from addresses(inner, below=path)
        else:
            yield "MOUNT", path


def test_every_address_of_the_app_is_in_the_table_once() -> None:
    app = create_app(ServerSettings(trail=Path("none.gpkg")))
    there = list(addresses(app.routes))
    listed = [(line.method, line.route) for line in TABLE]
    assert set(there) - set(listed) == set(), "missing from the table"
    assert sorted(listed) == sorted(there)


@pytest.fixture
def patient(monkeypatch: pytest.MonkeyPatch) -> None:
    """Turns enough to ask for the whole table at once."""
    monkeypatch.setattr(Buckets, "take", lambda *_, **__: 0)


def asked(team: TeamClient, line: Line, who: str, *, method: str | None = None) -> Any:
    visit = team.client.get("/api/visits?limit=1", headers=team.sent_by("Wren")).json()
    # Once the keeper has signed out there is nothing more to ask about.
    visit_id = visit["visits"][0]["visit_id"] if "visits" in visit else ""
    return team.client.request(
        method or line.method.replace("MOUNT", "GET"),
        line.ask.replace("{visit}", visit_id),
        headers=team.sent_by(who),
        **line.body,
    )


@pytest.fixture
def trail_path(few_boxes: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(few_boxes, tmp_path / "trail.gpkg"))


@pytest.mark.usefixtures("patient")
@pytest.mark.parametrize("role", ROLES)
def test_every_address_answers_each_role_as_the_table_says(team: TeamClient, role: str) -> None:
    wrong = {}
    for line in TABLE:
        answer = asked(team, line, ROLES[role])
        if answer.status_code != line.expected[role]:
            wrong[f"{line.method} {line.ask}"] = (answer.status_code, answer.text[:200])
    assert wrong == {}


@pytest.mark.usefixtures("patient")
@pytest.mark.parametrize("role", ROLES)
def test_asked_by_other_methods_no_address_gives_more_away(team: TeamClient, role: str) -> None:
    for line in TABLE:
        for method in ("HEAD", "OPTIONS", "PUT", "PATCH", "DELETE"):
            answer = asked(team, line, ROLES[role], method=method)
            where = f"{method} {line.ask} as {role}"
            if role in OUTSIDE and not is_public(line.ask):
                assert answer.status_code == 401, where
            elif method == "HEAD" and line.method != "POST":
                assert answer.status_code == line.expected[role], where
            else:
                assert answer.status_code in (200, 403, 405), where


@pytest.mark.usefixtures("patient")
@pytest.mark.parametrize("role", OUTSIDE)
def test_outside_an_address_that_exists_looks_like_one_that_does_not(
    team: TeamClient, role: str
) -> None:
    nowhere = team.client.get("/nowhere/at/all", headers=team.sent_by(ROLES[role]))
    assert nowhere.status_code == 401
    for line in TABLE:
        if line.method == "GET" and not is_public(line.ask) and line.route not in CALENDARS:
            answer = asked(team, line, ROLES[role])
            assert answer.text == nowhere.text


@pytest.mark.usefixtures("patient")
def test_what_the_team_is_shown_is_cached_by_its_own_browser_alone(team: TeamClient) -> None:
    for line in TABLE:
        if line.method in ONLY_READ and not is_public(line.ask):
            told = asked(team, line, "Wren").headers["cache-control"]
            assert "private" in told or "no-store" in told, line.ask


def test_the_table_can_fail(team: TeamClient) -> None:
    line = next(line for line in TABLE if line.route == "/people/invite")
    assert asked(team, line, "Wren").status_code != line.expected["walker"]
    assert asked(team, line, "nobody").status_code != line.expected["keeper"]
