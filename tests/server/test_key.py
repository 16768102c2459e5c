"""Telling who it is: the call, and the part of the visit form with and without scripts."""

from __future__ import annotations

import datetime as dt
import uuid
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from fastapi.testclient import TestClient
from playwright.sync_api import Browser, expect
from pydantic import TypeAdapter

from layers.nesting.key import Identification
from layers.trail.store import Trail
from server.app import create_app
from server.settings import ServerSettings
from tests.server.conftest import HOST, Serve

WIDE, PHONE = {"width": 1280, "height": 800}, {"width": 390, "height": 844}
STICKS = {"key_material": "twigs", "key_ground": "white", "key_marks": "spotted"}

ANSWER = TypeAdapter(Identification)


def form(**more: str) -> dict[str, str]:
    return {"visit_id": str(uuid.uuid4()), "date": "2026-06-02", "observer": "Maren"} | more


def count(path: Path) -> int:
    with Trail.open(path) as trail:
        return len(trail.visits())


def test_the_call_ranks_species_with_reasons_and_what_to_look_at_next(client: TestClient) -> None:
    asked = "material=twigs&ground=white&marks=spotted&eggs=7"
    told = ANSWER.validate_python(client.get(f"/api/key?{asked}").json())
    assert told.species == "house wren"
    assert told.candidates[0].reasons[0].startswith("fits: nest of twigs")
    assert [one.chance for one in told.candidates] == sorted(
        (one.chance for one in told.candidates), reverse=True
    )


def test_not_sure_is_an_answer(client: TestClient) -> None:
    told = ANSWER.validate_python(client.get("/api/key").json())
    assert told.species is None
    assert told.said.startswith("Not sure")
    assert told.look_next


def test_a_word_that_is_none_of_the_keys_is_refused_with_those_that_are(client: TestClient) -> None:
    answer = client.get("/api/key", params={"material": "straw"})
    assert answer.status_code == 422
    assert "rootlets" in answer.text
    assert client.get("/api/key?egg_length_mm=nan").status_code == 422


def test_species_of_other_parts_of_the_world_than_the_trails_are_left_out(
    client: TestClient,
) -> None:
    told = ANSWER.validate_python(client.get("/api/key?material=moss&eggs=7").json())
    assert "blue tit" not in {one.species for one in told.candidates}


def test_asking_the_key_saves_nothing_and_keeps_what_was_typed(
    client: TestClient, trail_path: Path
) -> None:
    before = count(trail_path)
    sent = form(eggs="7", note="kept", ask="key", **STICKS)
    answer = client.post("/boxes/M13/visit", data=sent)
    assert answer.status_code == 200
    assert "Most likely house wren" in answer.text
    for kept in ('value="7"', ">kept</textarea>", 'value="twigs" checked', sent["visit_id"]):
        assert kept in answer.text
    assert count(trail_path) == before


def test_a_length_that_is_none_is_refused_and_nothing_is_lost(client: TestClient) -> None:
    sent = form(note="kept", ask="key", key_egg_length_mm="long")
    answer = client.post("/boxes/M13/visit", data=sent)
    assert "Expected a length in millimetres like 17.5, got &#39;long&#39;" in answer.text
    assert ">kept</textarea>" in answer.text


@pytest.mark.parametrize("eggs", ["9" * 5000, "0", "61", "many"])
def test_a_count_of_eggs_that_no_nest_has_gives_the_key_nothing(
    client: TestClient, eggs: str
) -> None:
    answer = client.post("/boxes/M13/visit", data=form(eggs=eggs, note="kept", ask="key", **STICKS))
    assert answer.status_code == 200
    assert ">kept</textarea>" in answer.text


def test_a_species_taken_from_the_key_fills_the_form(client: TestClient) -> None:
    sent = form(eggs="7", choose="house wren", **STICKS)
    assert "<option selected>house wren</option>" in client.post("/boxes/M13/visit", data=sent).text


def test_what_the_key_was_given_does_not_go_into_the_visit(
    client: TestClient, trail_path: Path
) -> None:
    sent = form(eggs="5", **STICKS)
    assert client.post("/boxes/M13/visit", data=sent, follow_redirects=False).status_code == 303
    with Trail.open(trail_path) as trail:
        assert trail.visit(sent["visit_id"])["eggs"] == 5


def test_a_nest_saved_without_a_species_is_in_question_on_its_boxs_page(trail_path: Path) -> None:
    # After the last visit of the demo trail, so that no later one names the species.
    app = create_app(ServerSettings(trail=trail_path, on=dt.date(2026, 8, 25)))
    with TestClient(app, base_url=HOST) as client:
        sent = form(nest="lined cup", eggs="5", date="2026-08-25")
        page = client.post("/boxes/O02/visit", data=sent).text
        link = f"/boxes/O02/visit?replaces={sent['visit_id']}&amp;who=open#who"
        assert f'href="{link}">Identify the species' in page
        opened = client.get(link.replace("&amp;", "&")).text
        assert '<details class="key" id="who" open>' in opened
        assert "Identify the species" not in client.get("/boxes/M05").text


@pytest.mark.parametrize("size", [WIDE, PHONE], ids=["wide", "phone"])
@pytest.mark.parametrize("scripts", [True, False], ids=["scripts", "no scripts"])
def test_a_species_is_found_and_saved_with_a_few_touches(
    browser: Browser,
    serve: Serve,
    trail_path: Path,
    size: dict[str, int],
    scripts: bool,
) -> None:
    server = serve(trail_path)
    context = browser.new_context(viewport=size, java_script_enabled=scripts)  # type: ignore[arg-type]
    page = context.new_page()
    page.goto(f"{server.address}/boxes/O02/visit")
    page.locator("#eggs").fill("7")
    page.locator("#who summary").click()
    for name, word in STICKS.items():
        touched = page.locator(f"[name={name}][value={word}]")
        touched.check(force=True)
        box = page.locator(f"[name={name}][value={word}] + span").bounding_box()
        assert box is not None
        assert box["height"] >= 44
    page.get_by_role("button", name="Identify the species").click()
    expect(page.locator("[data-key-answer]")).to_contain_text("Most likely house wren")
    if scripts:
        assert Axe().run(page).violations_count == 0
    page.get_by_role("button", name="Take house wren").click()
    expect(page.locator("#species")).to_have_value("house wren")
    expect(page.locator("#eggs")).to_have_value("7")
    page.get_by_role("button", name="Save the visit").click()
    # Two days before, the box was empty.
    expect(page.locator(".odd")).to_contain_text("faster than one bird lays")
    page.get_by_label("It is right").check(force=True)
    page.get_by_role("button", name="Save the visit").click()
    expect(page.locator(".good")).to_contain_text("Saved")
    with Trail.open(trail_path) as trail:
        saved = [row for row in trail.visit_rows("O02") if row["seen_on"] == "2026-06-03"]
    assert [(row["species"], row["eggs"]) for row in saved] == [("house wren", 7)]
    assert saved[0]["confirmed"] == "laid too fast"
    context.close()


def test_the_enter_key_saves_the_visit_and_a_key_without_a_connection_says_so(
    browser: Browser, serve: Serve, trail_path: Path
) -> None:
    server = serve(trail_path)
    context = browser.new_context()
    page = context.new_page()
    page.goto(f"{server.address}/boxes/O02/visit")
    page.locator("#who summary").click()
    context.set_offline(True)
    page.get_by_role("button", name="Identify the species").click()
    expect(page.locator("[data-key-answer]")).to_contain_text("needs a connection")
    context.set_offline(False)
    page.locator("#eggs").fill("2")
    page.locator("#eggs").press("Enter")
    expect(page.locator(".good")).to_contain_text("Saved")
    context.close()
