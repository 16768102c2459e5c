"""The people page: what each may see and do there, and what is told once."""

from __future__ import annotations

import re
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser

from server.web.authentication.store import People
from tests.server.conftest import HOST
from tests.server.team import TeamClient


def page(team: TeamClient, who: str) -> str:
    return team.client.get("/people", headers=team.sent_by(who)).text


def post(team: TeamClient, who: str, address: str, **data: str) -> tuple[int, str]:
    answer = team.client.post(address, data=data, headers=team.sent_by(who))
    return answer.status_code, answer.text


def test_a_keeper_sees_everybody_and_a_walker_only_themselves(team: TeamClient) -> None:
    seen = page(team, "Wren")
    for name in ("Wren", "Robin", "Dipper", "Rook", "Swift"):
        assert name in seen
    assert re.search(r"revoked</b> <time", seen)
    assert re.search(r"expired</b> <time", seen)
    seen = page(team, "Robin")
    assert "You: Robin, walker" in seen
    for name in ("Wren", "Dipper", "Rook", "Swift", "Invite a person"):
        assert name not in seen


def test_a_link_made_here_opens_and_is_shown_once(team: TeamClient) -> None:
    status, shown = post(team, "Wren", "/people/invite", name="Siskin", role="walker", days="10")
    assert status == 200
    link = re.search(r'class="code">(http://127\.0\.0\.1/sign-in#([\w-]+))<', shown)
    assert link is not None
    assert "<svg" in shown
    assert link[2] not in page(team, "Wren")
    signed_in, _ = post(team, "nobody", "/sign-in", code=link[1], device="d")
    assert signed_in == 303
    assert "Siskin" in page(team, "Wren")


def test_a_keeper_ends_someones_access_but_not_their_own(team: TeamClient) -> None:
    assert post(team, "Wren", "/people/revoke", name="Robin")[0] == 303
    assert team.client.get("/list", headers=team.sent_by("Robin")).status_code == 401
    status, message = post(team, "Wren", "/people/revoke", name="wren")
    assert (status, "you cannot end your own access here" in message) == (422, True)
    assert post(team, "Wren", "/people/revoke", name="Nobody")[0] == 404
    assert team.client.get("/list", headers=team.sent_by("Wren")).status_code == 200


@pytest.mark.parametrize(
    "data",
    [
        {"name": "", "role": "walker"},
        {"name": "x" * 81, "role": "walker"},
        {"name": "Siskin", "role": "owner"},
        {"name": "Siskin", "role": "walker", "days": "0"},
        {"name": "Siskin", "role": "walker", "days": "many"},
        {"name": "Siskin", "role": "walker", "more": "1"},
        {"role": "walker"},
    ],
)
def test_what_makes_no_person_is_refused(team: TeamClient, data: dict[str, str]) -> None:
    assert post(team, "Wren", "/people/invite", **data)[0] == 422
    with People.open(team.trail) as people:
        assert len(people.everyone()) == 5


def test_a_name_is_text_and_nothing_else(team: TeamClient) -> None:
    name = "<script>alert(1)</script>"
    for _ in range(2):
        _, seen = post(team, "Wren", "/people/invite", name=name, role="keeper")
        assert "<script>alert" not in seen
        assert "&lt;script&gt;alert" in seen


def test_own_keys_are_made_shown_once_and_ended(team: TeamClient) -> None:
    _, shown = post(team, "Robin", "/people/keys", kind="program", label="desktop GIS")
    found = re.search(r'class="code">([\w-]{43})<', shown)
    assert found is not None
    stated = {"Authorization": f"Bearer {found[1]}"}
    assert team.client.get("/api/boxes", headers=stated).status_code == 200
    seen = page(team, "Robin")
    assert found[1] not in seen
    number = re.search(r'name="key" value="(\d+)" aria-label="End desktop GIS"', seen)
    assert number is not None
    # Nobody else's to end.
    post(team, "Dipper", "/people/keys/forget", key=number[1])
    assert team.client.get("/api/boxes", headers=stated).status_code == 200
    assert post(team, "Robin", "/people/keys/forget", key=number[1])[0] == 303
    assert team.client.get("/api/boxes", headers=stated).status_code == 401


def test_a_calendar_address_made_here_opens(team: TeamClient) -> None:
    _, shown = post(team, "Robin", "/people/keys", kind="calendar")
    found = re.search(r'class="code">http://127\.0\.0\.1(/due\.ics\?token=[\w-]+)<', shown)
    assert found is not None
    assert team.client.get(found[1]).status_code == 200


def test_the_page_is_never_cached(team: TeamClient) -> None:
    answer = team.client.get("/people", headers=team.sent_by("Wren"))
    assert answer.headers["cache-control"] == "no-store"
    assert "etag" not in answer.headers


@pytest.mark.parametrize("width", [390, 1280])
def test_no_page_of_the_team_has_a_fault_that_axe_finds(
    team: TeamClient, browser: Browser, width: int
) -> None:
    _, invited = post(team, "Wren", "/people/invite", name="Siskin", role="walker")
    seen = {"box": "M05", "date": "2026-06-02", "opened": "yes"}
    saved = team.client.post("/api/visits", json=seen, headers=team.sent_by("Robin"))
    visit = saved.json()["visit_id"]
    outside = team.client.get("/", headers={"Accept": "text/html"}).text
    sign_in = team.client.get("/sign-in").text
    history = team.client.get(f"/visits/{visit}/history", headers=team.sent_by("Wren")).text
    pages = {
        "people": page(team, "Wren"),
        "invited": invited,
        "walker": page(team, "Robin"),
        "outside": outside,
        "sign-in": sign_in,
        "history": history,
    }
    context = browser.new_context(viewport={"width": width, "height": 844})
    context.route("**/*", lambda route: route.fulfill(**answered(team, pages, route.request.url)))
    opened = context.new_page()
    for name in pages:
        opened.goto(f"{HOST}/shown/{name}")
        found = Axe().run(opened)
        assert found.violations_count == 0, (name, found.generate_report())
        scrolls = opened.evaluate("document.documentElement.scrollWidth > innerWidth")
        assert not scrolls, f"{name} is wider than {width} px"
    context.close()


def answered(team: TeamClient, pages: dict[str, str], address: str) -> dict[str, Any]:
    """What the browser is given: a page under test, or the app's own file."""
    path = address.removeprefix(HOST)
    if path.startswith("/shown/"):
        return {"body": pages[path.removeprefix("/shown/")], "content_type": "text/html"}
    answer = team.client.get(path)
    return {
        "status": answer.status_code,
        "body": answer.content,
        "content_type": answer.headers["content-type"],
    }
