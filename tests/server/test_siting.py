"""A place for a box: as a command, a call and a page."""

import json
import re
from pathlib import Path
from urllib.parse import quote

import pytest
from axe_playwright_python.sync_playwright import Axe
from fastapi.testclient import TestClient
from playwright.sync_api import Browser, ViewportSize, expect
from pyproj import Geod
from shapely import Point

from layers.trail.settings import Settings
from layers.trail.store import Trail
from server.command import main
from tests.server.conftest import Serve
from tests.server.serving import Served
from tests.server.small_trail import GATE, LANE, at, make_trail

ON = "2026-06-03"
HERE: dict[str, str | float] = {"lat": 42.6, "lon": -77.9}
WIDE = ViewportSize(width=1280, height=800)
PHONE = ViewportSize(width=390, height=844)
GEOD = Geod(ellps="WGS84")


def test_the_command_the_call_and_the_page_judge_a_place_alike(
    client: TestClient, trail_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    called = client.get("/api/site", params=HERE | {"on": ON}).json()
    command = ["site", str(trail_path), "42.6", "-77.9", "--on", ON]
    assert main([*command, "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == called
    page = client.get("/site", params=HERE | {"on": ON}).text
    assert main(command) == 0
    printed = capsys.readouterr().out
    assert called["cautions"]
    for why in called["cautions"]:
        assert why["text"] in page
        assert why["text"] in printed
    nested = [one for one in called["species"] if one["nests"]]
    assert len(nested) >= 5
    for one in nested:
        assert one["why"]["text"] in page
        assert f"{one['species']} (" in printed
        assert one["why"]["text"] in printed
    for one in called["species"]:
        assert one["species"].lower() in page.lower()


def test_the_nearest_box_of_the_call_is_that_of_the_reason(client: TestClient) -> None:
    first = client.get("/api/near", params=HERE | {"k": 1}).json()[0]
    called = client.get("/api/site", params=HERE | {"on": ON}).json()
    bluebird = called["species"][0]
    assert bluebird["species"] == "eastern bluebird"
    assert bluebird["why"]["text"].startswith(f"Box {first['box']}, {first['distance_m']:.0f} m")


def test_spots_with_room_are_apart_from_every_box_that_could_serve_and_in_no_barred_zone(
    client: TestClient, trail_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    asked: dict[str, str | int] = {"species": "Sialia sialis", "on": ON, "most": 50}
    room = client.get("/api/site/room", params=asked).json()
    command = ["site", str(trail_path), "--species", "eastern bluebird", "--on", ON, "-n", "50"]
    assert main([*command, "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == room
    assert room["species"] == "eastern bluebird"
    assert len(room["spots"]) >= 5
    boxes = client.get("/api/boxes", params={"on": ON}).json()["features"]
    fitting = [
        box["geometry"]["coordinates"]
        for box in boxes
        if abs(box["properties"]["hole_mm"] - 38) <= 1.6 and box["properties"]["removed_on"] is None
    ]
    assert len(fitting) >= 10
    at = [(spot["lon"], spot["lat"]) for spot in room["spots"]]
    for i, spot in enumerate(at):
        for other in [*fitting, *at[:i]]:
            assert GEOD.inv(*spot, *other)[2] >= room["apart_m"] - 0.2
    with Trail.open(trail_path) as trail:
        zones, paths = trail.zones(), trail.paths()
    barred = zones.geometry[zones["kind"].isin(["keep_out", "building", "water"])]
    roads = set(paths["name"][paths["kind"] == "road"])
    assert roads
    for spot, found in zip(at, room["spots"], strict=True):
        assert not barred.contains(Point(spot)).any()
        assert found["path"] not in roads


def test_a_place_without_a_half_or_a_species_without_a_distance_is_refused(
    client: TestClient, trail_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["site", str(trail_path)]) == 2
    assert "Expected LAT and LON of a place, or --species" in capsys.readouterr().err
    assert main(["site", str(trail_path), "42.6"]) == 2
    assert main(["site", str(trail_path), "99", "0"]) == 2
    assert "latitude" in capsys.readouterr().err
    assert main(["site", str(trail_path), "--species", "barn owl"]) == 2
    assert "gives a distance between boxes, got barn owl" in capsys.readouterr().err
    assert client.get("/api/site", params={"lat": 91, "lon": 0}).status_code == 422
    answer = client.get("/api/site/room", params={"species": "bluebrid"})
    assert answer.status_code == 422
    assert "nearest:" in answer.json()["detail"]
    page = client.get("/site", params={"species": "barn owl"})
    assert page.status_code == 422
    assert "Nothing could be looked for" in page.text


def test_an_empty_trail_answers_too(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "bare.gpkg"
    Trail.create(path, Settings("Bare", "America/New_York")).close()
    assert main(["site", str(path), "42.6", "-77.9"]) == 0
    assert "No box that could serve it stands within" in capsys.readouterr().out
    assert main(["site", str(path), "--species", "wood duck"]) == 0
    assert "No spots along the paths" in capsys.readouterr().out


WATCH_SYMBOLS = """() => {
    const pen = CanvasRenderingContext2D.prototype, { drawImage, scale } = pen;
    window.symbols = new Set();
    pen.scale = function (...by) {
        if (this.canvas.matches(".leaflet-zoom-hide")) window.symbols.clear();
        scale.apply(this, by);
    };
    pen.drawImage = function (image, ...at) {
        if (this.canvas.matches(".leaflet-zoom-hide")) window.symbols.add(at.join());
        drawImage.call(this, image, ...at);
    };
}"""
"""Notes in `symbols` the place of each symbol that the map's latest drawing has."""


@pytest.mark.parametrize("size", [WIDE, PHONE], ids=["desk", "phone"])
def test_a_tap_on_the_map_judges_a_place_and_spots_are_listed_and_drawn(
    browser: Browser, demo_server: Served, size: ViewportSize
) -> None:
    page = browser.new_page(viewport=size)
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.add_init_script(f"({WATCH_SYMBOLS})()")
    page.goto(f"{demo_server.address}/site")
    page.get_by_label("For one more box along the paths for").select_option("house wren")
    page.get_by_role("button", name="Show spots").click()
    expect(page.get_by_role("heading", name="Room for the house wren")).to_be_visible(
        timeout=30_000
    )
    expect(page.locator(".spot-mark")).to_have_count(page.locator(".spots li").count())
    assert page.locator(".spots li").count() >= 5
    assert page.evaluate("() => symbols.size") > 50
    page.locator("#map").click(position={"x": 150, "y": 200})
    expect(page.get_by_role("heading", name=re.compile("^The place 42"))).to_be_visible()
    expect(page.locator(".chosen-mark")).to_be_visible()
    # The species that spots were shown for stays.
    expect(page.get_by_role("heading", name="Room for the house wren")).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= size["width"]
    assert Axe().run(page).violations_count == 0
    assert all(url.startswith(demo_server.address) for url in asked)
    page.close()


def test_the_place_of_the_keeper_is_judged(browser: Browser, demo_server: Served) -> None:
    context = browser.new_context(
        viewport=PHONE,
        geolocation={"latitude": 42.6001, "longitude": -77.9002},
        permissions=["geolocation"],
    )
    page = context.new_page()
    page.goto(f"{demo_server.address}/site")
    page.get_by_role("button", name="Use my position").click()
    expect(page.get_by_role("heading", name="The place 42.60010, -77.90020")).to_be_visible()
    context.close()


def test_without_a_script_the_page_still_judges_a_place(
    browser: Browser, demo_server: Served
) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{demo_server.address}/site")
    page.get_by_label("Latitude").fill("42.6")
    page.get_by_label("Longitude").fill("-77.9")
    page.get_by_role("button", name="Judge this place").click()
    expect(page.get_by_role("heading", name="The place 42.60000, -77.90000")).to_be_visible()
    expect(page.locator("#map")).to_be_hidden()
    context.close()


LURING = "<a href=//elsewhere.example onmouseover=window.broken=1>A1</a>"

LEADS_AWAY = """() => [...document.links].map(link => new URL(link.href))
    .filter(found => found.protocol.startsWith("http") && found.host !== location.host)
    .map(String)"""


@pytest.mark.parametrize(
    "address", ["/site?lat=42.6&lon=-77.9", f"/#box={quote(LURING)}", "/round?set=all"]
)
def test_ids_and_names_that_are_markup_stay_text_on_every_map(
    browser: Browser, serve: Serve, tmp_path: Path, address: str
) -> None:
    """Wherever the pointer goes on the map, nothing of the trail runs or leads elsewhere."""
    trail = make_trail(
        tmp_path / "luring.gpkg",
        boxes={LURING: at(1), "A2": at(2, 0.4)},
        paths=[LANE | {"name": LURING}],
        places=[GATE | {"name": LURING}],
        zones=[{"name": LURING, "kind": "water", "geometry": at(1.5, 0.3).buffer(0.0004)}],
    )
    server = serve(trail)
    page = browser.new_page(viewport=WIDE)
    elsewhere: list[str] = []
    page.on("request", lambda one: elsewhere.append(one.url))
    page.goto(server.address + address)
    canvas = page.locator(".leaflet-container").first
    canvas.wait_for()
    page.wait_for_load_state("networkidle")
    room = canvas.bounding_box()
    assert room is not None
    for step in range(40):
        across, down = (step % 8 + 0.5) / 8, (step // 8 + 0.5) / 5
        page.mouse.move(room["x"] + across * room["width"], room["y"] + down * room["height"])
    page.wait_for_timeout(300)
    assert page.evaluate("window.broken") is None
    assert page.evaluate(LEADS_AWAY) == []
    assert all(url.startswith((server.address, "data:", "blob:")) for url in elsewhere)
    assert "A1</a>" in page.locator("body").inner_text()
    page.close()
