"""Signing a device in with a link, and out; where the link's secret is and is not."""

from __future__ import annotations

import logging
import re
from datetime import UTC, datetime
from pathlib import Path

import httpx
import pytest
from fastapi.testclient import TestClient
from playwright.sync_api import Browser

from server.app import create_app
from server.people.sign_in import code_of
from server.settings import ServerSettings
from server.web.authentication.cookies import cookie_name
from server.web.authentication.links import calendar_link, qr_picture, qr_text, sign_in_link
from server.web.authentication.roles import Role
from server.web.authentication.store import People
from tests.server.conftest import HOST, ON, Serve
from tests.server.team import TeamClient, make_team


def link_for(trail: Path, name: str = "Siskin", role: Role = Role.WALKER) -> str:
    with People.open_or_create(trail) as people:
        return people.invite(name, role=role, now=datetime.now(UTC)).token


def form_of(client: TestClient, code: str) -> dict[str, str]:
    """What the sign-in page sends when a code was typed into it."""
    page = client.get("/sign-in").text
    found = re.search(r'name="device" value="([\w-]+)"', page)
    assert found is not None
    return {"device": found[1], "code": code, "label": "my phone"}


def test_a_link_signs_a_device_in(team: TeamClient) -> None:
    sent = form_of(team.client, link_for(team.trail))
    answer = team.client.post("/sign-in", data=sent, headers={"Origin": HOST})
    assert (answer.status_code, answer.headers["location"]) == (303, "/")
    page = team.client.get("/people")
    assert "You: Siskin, walker" in page.text
    assert "my phone (this device)" in page.text


def test_the_cookie_is_out_of_reach_of_scripts_and_other_sites(team: TeamClient) -> None:
    sent = form_of(team.client, link_for(team.trail))
    cookie = team.client.post("/sign-in", data=sent).headers["set-cookie"]
    name, *said = cookie.split("; ")
    assert name.startswith(f"boxround-{team.mark}=")
    assert {"HttpOnly", "Path=/", "SameSite=lax"} <= set(said)
    assert "Secure" not in said
    assert not any(each.startswith("Domain") for each in said)


def test_over_an_encrypted_line_the_cookie_stays_on_it(trail_path: Path) -> None:
    code = link_for(trail_path, "Wren", Role.KEEPER)
    settings = ServerSettings(trail=trail_path, on=ON, public_url="https://trail.example.org")
    with TestClient(create_app(settings), base_url="https://trail.example.org") as client:
        answer = client.post("/sign-in", data=form_of(client, code), follow_redirects=False)
        cookie = answer.headers["set-cookie"]
        assert cookie.startswith("__Host-boxround-")
        assert "; Secure" in cookie
        assert client.get("/list").status_code == 200


def test_the_secret_of_a_link_stays_out_of_pages_addresses_and_the_log(
    team: TeamClient, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    code = link_for(team.trail)
    sent = form_of(team.client, code)
    answer = team.client.post("/sign-in", data=sent)
    assert code not in answer.text + str(answer.headers)
    refused = team.client.post("/sign-in", data=sent | {"device": "other"})
    assert refused.status_code == 403
    assert code not in refused.text
    assert code not in caplog.text
    assert team.client.get("/sign-in").headers["referrer-policy"] == "same-origin"


def test_a_preview_of_the_link_does_not_use_it_up(team: TeamClient) -> None:
    code = link_for(team.trail)
    for _ in range(3):
        team.client.get("/sign-in")
        team.client.head("/sign-in")
    answer = team.client.post("/sign-in", data=form_of(team.client, code))
    assert answer.status_code == 303


def test_a_form_sent_twice_signs_in_once_and_a_used_link_says_what_to_do(team: TeamClient) -> None:
    sent = form_of(team.client, link_for(team.trail))
    for _ in range(2):
        assert team.client.post("/sign-in", data=sent, headers={"Origin": HOST}).status_code == 303
    other = team.client.post("/sign-in", data=sent | {"device": "other"}, headers={"Origin": HOST})
    assert other.status_code == 403
    assert "Ask the keeper of the trail for a new one" in other.text


def test_text_that_is_neither_link_nor_code_is_refused(team: TeamClient) -> None:
    for text in ("http://[", "#", "http://[#]", "\x00"):
        answer = team.client.post("/sign-in", data=form_of(team.client, text))
        assert answer.status_code == 403


@pytest.mark.parametrize(
    "headers", [{"Origin": "http://evil.test"}, {"Sec-Fetch-Site": "cross-site"}]
)
def test_another_site_can_sign_no_one_in_or_out(team: TeamClient, headers: dict[str, str]) -> None:
    sent = form_of(team.client, link_for(team.trail))
    assert team.client.post("/sign-in", data=sent, headers=headers).status_code == 403
    own = team.sent_by("Wren") | headers
    assert team.client.post("/sign-out", headers=own).status_code == 403
    assert team.client.get("/list", headers=team.sent_by("Wren")).status_code == 200


def test_a_change_with_a_cookie_must_say_which_page_it_comes_from(team: TeamClient) -> None:
    sent = team.sent_by("Wren")
    del sent["Origin"]
    assert team.client.post("/api/visits", json={}, headers=sent).status_code == 403
    from_here = sent | {"Sec-Fetch-Site": "same-origin"}
    assert team.client.post("/api/visits", json={}, headers=from_here).status_code == 422


def test_signing_out_ends_the_key_and_not_only_the_cookie(team: TeamClient) -> None:
    sent = team.sent_by("Robin")
    answer = team.client.post("/sign-out", headers=sent)
    assert (answer.status_code, answer.headers["location"]) == (303, "/sign-in")
    assert "Max-Age=0" in answer.headers["set-cookie"]
    # Visits that are not sent yet lie in the browser's storage and stay there.
    assert answer.headers["clear-site-data"] == '"cache"'
    assert team.client.get("/list", headers=sent).status_code == 401


def test_people_get_a_page_that_says_whom_to_ask(team: TeamClient) -> None:
    for address in ("/", "/boxes/M05", "/nowhere"):
        answer = team.client.get(address, headers={"Accept": "text/html"})
        assert answer.status_code == 401
        assert "Ask the keeper of the trail for a new one" in answer.text
        assert "Alderbeck" not in answer.text
        assert "frame-ancestors 'none'" in answer.headers["content-security-policy"]
        assert answer.headers["cache-control"] == "no-store"


@pytest.mark.parametrize(
    ("pasted", "code"),
    [
        ("abc_-9", "abc_-9"),
        ("  abc ", "abc"),
        ("https://trail.example.org/sign-in#abc", "abc"),
        ("http://127.0.0.1:8000/sign-in#abc\n", "abc"),
        ("", ""),
    ],
)
def test_the_link_or_its_code_may_be_pasted(pasted: str, code: str) -> None:
    assert code_of(pasted) == code


def test_links_keep_the_secret_behind_the_sign_that_is_not_sent() -> None:
    link = sign_in_link("abc", origin="https://trail.example.org/")
    assert link == "https://trail.example.org/sign-in#abc"
    assert httpx.URL(link).raw_path == b"/sign-in"
    assert calendar_link("a b", origin="https://t.example") == "https://t.example/due.ics?token=a+b"


def test_a_qr_code_of_a_terminal_and_of_a_page_show_the_same_modules() -> None:
    link = sign_in_link("x" * 43, origin="https://trail.example.org")
    text, picture = qr_text(link), qr_picture(link)
    lines = [line for line in text.splitlines() if line]
    rows: list[str] = []
    for line in lines:
        rows.append("".join(".#"[sign in " ▄"] for sign in line))
        rows.append("".join(".#"[sign in " ▀"] for sign in line))
    dark = sum(row.count("#") for row in rows)
    # The path draws runs of dark modules: h7 is seven of them.
    drawn = sum(int(run) for run in re.findall(r"h(\d+)", picture.split("<path", 1)[1]))
    width = len(lines[0])
    assert dark - width * (len(rows) - width) == drawn
    assert not re.search(r"\sstyle=|<style|<script", picture)
    assert "<title>" in picture


def test_a_browser_takes_the_code_out_of_the_address_and_signs_in(
    browser: Browser, serve: Serve, trail_path: Path
) -> None:
    code = link_for(trail_path, "Wren", Role.KEEPER)
    server = serve(trail_path)
    context = browser.new_context()
    page = context.new_page()
    wrong: list[str] = []
    page.on("console", lambda said: wrong.append(said.text) if said.type == "error" else None)
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(f"{server.address}/sign-in#{code}")
    page.wait_for_selector("[data-code][hidden]", state="attached")
    assert page.url == f"{server.address}/sign-in"
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_selector("#map, .leaflet-container")
    (cookie,) = context.cookies()
    assert cookie["httpOnly"]
    assert cookie["sameSite"] == "Lax"
    assert not any(code in address for address in asked)
    page.goto(f"{server.address}/people")
    assert page.get_by_role("heading", name="You: Wren, keeper").is_visible()
    page.get_by_role("button", name="Sign out").click()
    page.wait_for_url("**/sign-in")
    assert page.goto(f"{server.address}/list").status == 401  # type: ignore[union-attr]
    assert [said for said in wrong if "401" not in said] == []
    context.close()


def test_a_visit_written_while_access_ended_stays_on_the_device(
    browser: Browser, serve: Serve, trail_path: Path
) -> None:
    mark, tokens = make_team(trail_path)
    server = serve(trail_path)
    context = browser.new_context()
    name = cookie_name(mark, secure=False)
    context.add_cookies([{"name": name, "value": tokens["Robin"], "url": server.address}])
    page = context.new_page()
    page.goto(f"{server.address}/boxes/M05/visit")
    assert page.get_by_label("Observer").input_value() == "Robin"
    with People.open(trail_path) as people:
        people.revoke("Robin", now=datetime.now(UTC))
    page.locator("#eggs").fill("3")
    page.get_by_role("button", name="Save the visit").click()
    page.get_by_text("The visit is stored on this phone").wait_for()
    assert page.get_by_text("Your access has ended").count() == 1
    context.close()


def test_without_scripts_the_link_is_pasted(
    browser: Browser, serve: Serve, trail_path: Path
) -> None:
    code = link_for(trail_path, "Wren", Role.KEEPER)
    server = serve(trail_path)
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    link = f"{server.address}/sign-in#{code}"
    page.goto(link)
    page.get_by_label("The link, or the code after its #").fill(link)
    page.get_by_role("button", name="Sign in").click()
    page.goto(f"{server.address}/list")
    assert page.get_by_role("heading", name="Boxes").is_visible()
    context.close()
