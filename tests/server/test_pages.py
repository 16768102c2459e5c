"""Pages without JavaScript, and the visit form with and without it."""

from __future__ import annotations

import html
import re
import uuid
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from fastapi.testclient import TestClient
from playwright.sync_api import Browser, Route, expect

from layers.trail.store import Trail
from tests.server.conftest import Serve, locked

HOSTILE = "<script>window.broken = 1</script><b onclick='x'>\"&"
KEEP = """visits => localStorage.setItem("boxround visits not sent",
    JSON.stringify(visits.map(visit => ({ visit, wrong: "" }))))"""
WIDE, PHONE = {"width": 1280, "height": 800}, {"width": 390, "height": 844}


def form(**more: str) -> dict[str, str]:
    return {"visit_id": str(uuid.uuid4()), "date": "2026-06-02", "observer": "Maren"} | more


def test_the_list_shows_every_box(client: TestClient) -> None:
    page = client.get("/list").text
    assert page.count('data-label="Box"') == 60
    assert "27</b> in use" in page


def test_the_list_of_another_day(client: TestClient) -> None:
    assert "in use" not in re.sub("<[^>]+>", " ", client.get("/list?on=2023-01-15").text)


def test_a_box_page_shows_nests_reasons_and_visits(client: TestClient) -> None:
    page = client.get("/boxes/M05").text
    assert "Nest material (shaped cup) first seen on 22 April." in page
    assert "Watch from a distance" in page
    assert "Record a visit" in page


def test_the_form_offers_every_word_and_the_species_met_here_first(client: TestClient) -> None:
    page = client.get("/boxes/M05/visit").text
    for word in ("hatched shells", "guard fitted", "flushed", "lined cup"):
        assert f'value="{word}"' in page
    assert page.index("Met on this trail") < page.index("All in the guide")


def test_a_form_sent_saves_once_and_shows_the_box(client: TestClient, trail_path: Path) -> None:
    sent = form(eggs="4", signs="wet", note="")
    for _ in range(2):
        answer = client.post("/boxes/M05/visit", data=sent, follow_redirects=False)
        assert answer.status_code == 303
        assert answer.headers["location"] == "/boxes/M05?saved=yes"
    assert "Saved" in client.get("/boxes/M05?saved=yes").text
    with Trail.open(trail_path) as trail:
        (row,) = [r for r in trail.visit_rows("M05") if r["visit_id"] == sent["visit_id"]]
    assert (row["eggs"], row["young"], row["note"]) == (4, None, None)


def test_what_is_wrong_is_beside_its_field_and_nothing_typed_is_lost(client: TestClient) -> None:
    answer = client.post(
        "/boxes/M05/visit", data=form(eggs="lots", note=f"Ünïcode {HOSTILE}", date="2030-01-01")
    )
    assert answer.status_code == 422
    assert 'id="eggs-fault"' in answer.text
    assert "Expected a whole number from 0 to 40" in answer.text
    assert 'value="lots"' in answer.text
    assert html.escape(HOSTILE, quote=False)[:20] in answer.text
    assert "<script>window" not in answer.text


def test_a_locked_file_keeps_what_was_typed(client: TestClient, trail_path: Path) -> None:
    with locked(trail_path):
        answer = client.post("/boxes/M05/visit", data=form(note="kept"))
    assert answer.status_code == 503
    assert "retry-after" in answer.headers
    assert "kept" in answer.text


def test_a_visit_is_corrected_by_its_form(client: TestClient, trail_path: Path) -> None:
    with Trail.open(trail_path) as trail:
        wrong = [row for row in trail.visit_rows("M05") if row["seen_on"] <= "2026-06-03"][-1]
    page = client.get("/boxes/M05/visit", params={"replaces": wrong["visit_id"]}).text
    assert f'value="{wrong["seen_on"]}"' in page
    sent = form(date=wrong["seen_on"], replaces=wrong["visit_id"], eggs="0")
    assert client.post("/boxes/M05/visit", data=sent, follow_redirects=False).status_code == 303
    with Trail.open(trail_path) as trail:
        assert wrong["visit_id"] not in {row["visit_id"] for row in trail.visit_rows("M05")}
        assert trail.visit(wrong["visit_id"]) == wrong


def test_text_of_the_trail_stays_text_on_every_page(client: TestClient, trail_path: Path) -> None:
    with Trail.open(trail_path) as trail:
        columns = ("name", "section", "mount", "habitat", "note", "opens", "hole_shape")
        with trail.write() as connection:
            for column in columns:
                connection.execute(f"UPDATE boxes SET {column} = ?", (HOSTILE,))
        rows = [
            {"box": "M05", "seen_on": "2026-06-01", "note": HOSTILE, "observer": HOSTILE}
            | {"species": HOSTILE, "visit_id": str(uuid.uuid4())}
        ]
        trail.add_rows("visits", rows)
        trail.change_settings(name=HOSTILE)
    for address in ("/", "/list", "/help", "/boxes/M05", "/boxes/M05/visit"):
        assert "<script>window" not in client.get(address).text
        assert "<b onclick" not in client.get(address).text


@pytest.mark.parametrize("size", [WIDE, PHONE], ids=["wide", "phone"])
def test_every_page_is_accessible_and_requests_nothing_elsewhere(
    browser: Browser, serve: Serve, trail_path: Path, size: dict[str, int]
) -> None:
    server = serve(trail_path)
    page = browser.new_page(viewport=size)  # type: ignore[arg-type]
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    for address in ("/", "/list", "/help", "/boxes/M05", "/boxes/M05/visit", "/boxes/Z9"):
        page.goto(server.address + address)
        if address == "/":
            expect(page.locator("#shown-day")).to_contain_text("As of", timeout=30_000)
        results = Axe().run(page)
        assert results.violations_count == 0, results.generate_report()
        wide = page.evaluate("document.documentElement.scrollWidth > window.innerWidth")
        assert not wide, f"{address} is wider than the window"
    assert all(url.startswith((server.address, "data:")) for url in asked)
    page.close()


@pytest.mark.parametrize("size", [WIDE, PHONE], ids=["wide", "phone"])
def test_a_visit_is_stored_on_the_phone_until_it_can_be_sent(
    browser: Browser, serve: Serve, trail_path: Path, size: dict[str, int]
) -> None:
    server = serve(trail_path)
    context = browser.new_context(viewport=size)  # type: ignore[arg-type]
    page = context.new_page()
    page.goto(f"{server.address}/boxes/M05/visit")
    page.locator("#eggs").fill("4")
    page.get_by_label("hatched shells").check(force=True)
    context.set_offline(True)
    page.get_by_role("button", name="Save the visit").click()
    expect(page.locator("[data-said]")).to_contain_text("stored on this phone")
    context.set_offline(False)
    page.get_by_role("link", name="its outbox").click()
    expect(page.locator("#view")).to_contain_text("Saved in the trail: 1")
    with Trail.open(trail_path) as trail:
        (row,) = [r for r in trail.visit_rows("M05") if r["signs"] == "hatched shells"]
    assert row["eggs"] == 4
    context.close()


def test_a_stored_visit_that_is_refused_says_why_and_can_be_mended(
    browser: Browser, serve: Serve, trail_path: Path
) -> None:
    server = serve(trail_path)
    page = browser.new_page(viewport=PHONE)  # type: ignore[arg-type]
    page.goto(f"{server.address}/list")
    page.evaluate(KEEP, [form(box="O11", eggs="99", nest="lined cup", signs="wet;cold")])
    page.goto(f"{server.address}/field#sent")
    told = page.locator("#view")
    expect(told).to_contain_text("eggs: expected a whole number from 0 to 40")
    assert page.evaluate("localStorage.length") == 0
    assert Axe().run(page).violations_count == 0
    told.get_by_role("button", name="Change it").click()
    expect(page.get_by_role("button", name="Eggs: 99 counted. Choose a number")).to_be_visible()
    page.get_by_text("More: species").click()
    pressed = page.locator(".rest button[aria-pressed=true]").all_inner_texts()
    assert [text.strip() for text in pressed] == ["lined cup", "wet", "cold"]
    page.get_by_role("button", name="Eggs: 99").click()
    page.locator(".pad").get_by_text("3", exact=True).click()
    page.get_by_role("button", name="Save").click()
    expect(page.locator("#toast")).to_contain_text("Saved O11: 3 eggs")
    page.goto(f"{server.address}/field#sent")
    expect(told).to_contain_text("Saved in the trail: 1", timeout=20_000)
    with Trail.open(trail_path) as trail:
        assert [row["eggs"] for row in trail.visit_rows("O11")][-1] == 3
    page.close()


def test_a_visit_stored_while_another_is_being_sent_stays_stored(
    browser: Browser, serve: Serve, trail_path: Path
) -> None:
    server = serve(trail_path)
    context = browser.new_context(viewport=PHONE)  # type: ignore[arg-type]
    page = context.new_page()
    page.goto(f"{server.address}/list")
    page.evaluate(KEEP, [form(box="M01", eggs="1")])
    held: list[Route] = []
    context.route("**/api/visits", lambda route: route.abort() if held else held.append(route))
    context.route("**/boxes/M05/visit", lambda route: route.abort() if held else route.continue_())
    form_page = context.new_page()
    form_page.goto(f"{server.address}/boxes/M05/visit")
    page.goto(f"{server.address}/field#sent")
    expect(page.locator("#view")).to_contain_text("Waiting: 1")
    form_page.locator("#eggs").fill("4")
    form_page.get_by_role("button", name="Save the visit").click()
    expect(form_page.locator("[data-said]")).to_contain_text("stored on this phone")
    held[0].continue_()
    expect(page.locator("#view")).to_contain_text("Saved in the trail: 1")
    expect(page.locator("#view")).to_contain_text("Waiting: 1")
    context.close()


def test_a_device_that_cannot_keep_a_visit_says_so_and_the_form_stays(
    browser: Browser, serve: Serve, trail_path: Path
) -> None:
    server = serve(trail_path)
    context = browser.new_context()
    page = context.new_page()
    page.goto(f"{server.address}/boxes/M05/visit")
    page.evaluate("() => { indexedDB.open = () => { throw new Error('full') } }")
    page.locator("#eggs").fill("4")
    context.set_offline(True)
    page.get_by_role("button", name="Save the visit").click()
    expect(page.locator("[data-said]")).to_contain_text("leave this page open")
    context.set_offline(False)
    page.get_by_role("button", name="Save the visit").click()
    expect(page.locator(".good")).to_contain_text("Saved")
    context.close()


def test_a_form_with_a_fault_shows_it_in_the_browser(
    browser: Browser, serve: Serve, trail_path: Path
) -> None:
    server = serve(trail_path)
    page = browser.new_page(viewport=PHONE)  # type: ignore[arg-type]
    page.goto(f"{server.address}/boxes/M05/visit")
    page.locator("#eggs").fill("many")
    page.get_by_role("button", name="Save the visit").click()
    expect(page.locator("#faults")).to_contain_text("Not saved")
    expect(page.locator("#eggs")).to_have_value("many")
    page.locator("#eggs").fill("3")
    page.get_by_role("button", name="Save the visit").click()
    expect(page.locator(".good")).to_contain_text("Saved")
    page.close()
