"""The round's page and sheet as a reader without JavaScript gets them."""

from __future__ import annotations

import html
import re
from datetime import date
from pathlib import Path

import pytest
import segno
from fastapi.testclient import TestClient

from server.rounds.page import outside_address
from server.settings import ServerSettings
from tests.server.conftest import HOST

CODE = "/round/code.svg?set=boxes&boxes=P01"


def text_of(page: str) -> str:
    return html.unescape(" ".join(re.sub(r"<[^>]+>", " ", page).split()))


def drawn(svg: str) -> str:
    """The dark squares of a code."""
    (path,) = re.findall(r'stroke="#000" d="([^"]+)"', svg)
    return str(path)


def test_without_a_question_there_is_the_form_alone(client: TestClient) -> None:
    page = client.get("/round").text
    assert f"those that are due ({len(client.get('/api/due').json())})" in page
    assert '<details class="plan" open>' in page
    assert page.count("<option>Car park</option>") == 2
    assert 'class="legs"' not in page


def test_the_form_keeps_what_was_asked(client: TestClient) -> None:
    asked = "set=section&section=Pond Meadow&from=Alder Barn&to=Car park&minutes=200&walkers=2"
    page = client.get(f"/round?{asked}&pace=4.5&leave=07:15&on=2026-05-20&boxes=").text
    for kept in (
        'value="section" checked',
        'value="Pond Meadow" checked',
        "<option selected>Alder Barn</option>",
        'name="minutes" value="200"',
        'name="walkers" value="2"',
        'name="pace" value="4.5"',
        'name="leave" value="07:15"',
        'name="on" value="2026-05-20"',
    ):
        assert kept in page, kept


def test_a_break_is_on_the_page_the_sheet_the_gpx_and_in_the_link_of_the_walk(
    client: TestClient,
) -> None:
    asked = "set=due&break_minutes=30&break_after=60&stop_minutes=4&on=2026-06-03"
    found = client.get(f"/api/round?{asked}").json()
    plain = client.get("/api/round?set=due&stop_minutes=4&on=2026-06-03").json()
    breaks = round((found["minutes"] - plain["minutes"]) / 30.0)
    assert breaks >= 1
    # The last may be on the way home, which is no stop.
    first = next(stop for stop in found["stops"] if stop["break_minutes"])
    assert first["instruction"].startswith("break of 30 min from 09:0")
    page, sheet = (client.get(f"{way}?{asked}").text for way in ("/round", "/round/sheet"))
    for shown in (page, sheet):
        assert shown.count("Break of 30 min from ") == breaks
        assert " and breaks" in shown
    assert "Breaks: 30 min after every 1 h 0 min" in page
    gpx = client.get(f"/api/round?{asked}&format=gpx").text
    assert gpx.count("break of 30 min from ") >= breaks
    link = html.unescape(re.findall(r'href="/round/sheet\?([^"]+)"', page)[0])
    assert "break_minutes=30" in link
    walk = html.unescape(re.findall(r'/round/code.svg\?([^"]+)"', page)[0])
    again = client.get(f"/api/round?{walk}").json()
    assert again["minutes"] == found["minutes"]
    assert [stop["arrives"] for stop in again["stops"]] == [s["arrives"] for s in found["stops"]]


def test_every_stop_has_its_leg_in_figures_and_words(client: TestClient) -> None:
    told = client.get("/api/round?set=due").json()
    page = client.get("/round?set=due").text
    legs = re.findall(r'<li id="stop-1-(\d+)".*?</li>\s*(?=<li)', page, re.DOTALL)
    assert [int(order) for order in legs] == sorted({stop["order"] for stop in told["stops"]})
    said = text_of(page)
    for stop in told["stops"]:
        instruction = stop["instruction"][:1].upper() + stop["instruction"][1:]
        assert f"{instruction}." in said
        assert f"{stop['box']}" in said
        assert f"at {stop['arrives']}" in said
    assert f"back {told['walks'][0]['returns_at']}" in said


def test_the_page_says_why_boxes_are_visited_left_out_and_how_good_the_round_is(
    client: TestClient,
) -> None:
    said = text_of(client.get("/round?set=due").text)
    assert "No visit this season." in said
    assert "N07 : it is not to be visited: the keeper has closed this box" in said
    assert "Hazard near the way: Deep mud." in text_of(client.get("/round?set=all").text)
    assert "Old Bobolink Path is not used: it is closed." in said
    assert re.search(r"Proven: no round|A better plan could", said)


def test_the_height_profile_is_drawn_and_labelled(client: TestClient) -> None:
    page = client.get("/round?set=due").text
    (profile,) = re.findall(r'<svg class="profile".*?</svg>', page, re.DOTALL)
    assert re.search(r'aria-label="Height along the walk of [\d.]+ km: lowest \d+ m', profile)
    assert re.search(r">\d+ m</text>", profile)
    assert re.search(r">\d+ km</text>", profile)


def test_what_is_to_be_looked_at_from_the_path_says_so(client: TestClient) -> None:
    page = client.get("/round?set=all").text
    stops = client.get("/api/round?set=all").json()["stops"]
    watched = [stop for stop in stops if stop["approach"] != "open"]
    assert watched
    assert page.count("Watch from a distance; do not open.") == len(watched)
    assert "young may leave too early" in page


def test_each_walker_has_a_walk_and_a_code_of_their_own(client: TestClient) -> None:
    page = client.get("/round?set=section&section=Pond Meadow&walkers=2").text
    told = client.get("/api/round?set=section&section=Pond Meadow&walkers=2").json()
    codes = [html.unescape(c) for c in re.findall(r'src="/round/code.svg\?([^"]+)"', page)]
    assert len(codes) == 2
    for walk, code in zip(told["walks"], codes, strict=True):
        own = client.get(f"/api/round?{code}").json()
        assert own["walks"][0]["boxes"] == walk["boxes"]


def test_what_is_asked_wrongly_is_said_above_the_form(client: TestClient) -> None:
    answer = client.get("/round?set=boxes&boxes=P01,Q9", headers={"Accept": "text/html"})
    assert answer.status_code == 404
    assert "No round could be planned." in answer.text
    assert "got &#39;Q9&#39;" in answer.text
    assert 'value="P01,Q9"' in answer.text


def test_the_code_holds_the_address_under_which_it_was_asked_for(client: TestClient) -> None:
    expected = segno.make_qr(f"{HOST}/field?set=boxes&boxes=P01", error="l")
    answer = client.get(CODE)
    assert answer.headers["content-type"] == "image/svg+xml"
    assert answer.headers["cache-control"] == "no-store"
    assert drawn(answer.text) == drawn(expected.svg_inline())
    public = ServerSettings(trail=Path("none.gpkg"), public_url="https://trail.example/")
    assert outside_address(public, own=HOST) == "https://trail.example"


def test_too_many_boxes_for_a_code_are_refused_in_a_sentence(client: TestClient) -> None:
    query = "&".join(f"boxes=A{number:04d}" for number in range(500))
    answer = client.get(f"/round/code.svg?set=boxes&{query}")
    assert answer.status_code == 422
    assert "fewer boxes, for a QR code, got 500" in answer.json()["detail"]


def test_a_server_for_this_computer_alone_says_that_a_phone_cannot_open_it(
    client: TestClient,
) -> None:
    assert "This server answers only on this computer." in client.get("/round?set=due").text


@pytest.mark.parametrize("on", [date(2026, 6, 3), date(2024, 5, 20)])
def test_the_sheet_tells_what_to_expect_in_each_box(client: TestClient, on: date) -> None:
    page = client.get(f"/round/sheet?set=boxes&boxes=M05,O05&on={on}").text
    said = text_of(page)
    assert "What to expect" in said
    assert re.search(r"\d+ (April|May|June|August)( \d{4})?: ", said)
    assert "Species" in said
    assert "In an emergency call" in said


def test_the_sheet_warns_of_what_a_box_holds(client: TestClient) -> None:
    said = text_of(client.get("/round/sheet?set=boxes&boxes=O05").text)
    assert "Caution: A mouse has used this box." in said


def test_the_sheet_says_what_comes_soon(client: TestClient) -> None:
    said = text_of(client.get("/round/sheet?set=all").text)
    assert re.search(r"eggs; hatching expected \d+ (to \d+ )?June\.", said)
    assert re.search(r"If all is well, young|swallow: if all is well, young", said)
    assert "Watch from a distance; do not open." in said


def test_the_sheet_draws_every_stop_on_its_map(client: TestClient) -> None:
    page = client.get("/round/sheet?set=due").text
    stops = client.get("/api/round?set=due").json()["stops"]
    numbers = re.findall(r'<text class="number"[^>]*>(\d+)</text>', page)
    assert [int(number) for number in numbers] == sorted({stop["order"] for stop in stops})
