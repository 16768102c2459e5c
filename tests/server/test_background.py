"""The trail's own background: on the team's maps, without a signal, and never in public."""

from __future__ import annotations

import shutil
from pathlib import Path

import httpx
import pytest
from playwright.sync_api import Browser, expect

from layers.trail.background import background_of, tile_span
from layers.trail.importing.background.adding import surroundings
from layers.trail.store import Trail
from server.command import main
from tests.server.conftest import Serve
from tests.trail.importing.pictures import make_geotiff, make_mbtiles, make_tile_geopackage

SHOWN = """() => [...document.querySelectorAll('img.leaflet-tile')]
    .filter((tile) => tile.complete && tile.naturalWidth === 256).length > 3"""
WHOSE = "Invented <b>Survey</b>"


@pytest.fixture
def with_background(few_boxes: Path, tmp_path: Path, request: pytest.FixtureRequest) -> Path:
    """A trail with a background from a file of the kind that the test names."""
    path = Path(shutil.copy(few_boxes, tmp_path / "few.gpkg"))
    with Trail.open(path) as trail:
        bounds = surroundings(trail, around_m=200.0)
    kind = getattr(request, "param", "mbtiles")
    file = tmp_path / f"ground.{kind}"
    if kind == "tif":
        pytest.importorskip("rasterio")
        make_geotiff(file, bounds)
    elif kind == "gpkg":
        # One zoom alone, much finer than that of the map when it opens.
        make_tile_geopackage(file, bounds, 16)
    else:
        make_mbtiles(file, bounds, range(13, 17))
    words = ["add", "background", str(file), str(path), "--around-m", "200"]
    assert main([*words, "--attribution", WHOSE, "--licence", "CC0"]) == 0
    return path


def test_who_owns_the_pictures_is_asked_for(
    few_boxes: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    make_mbtiles(tmp_path / "g.mbtiles", (-78.0, 42.5, -77.9, 42.7), range(10, 11))
    assert main(["add", "background", str(tmp_path / "g.mbtiles"), str(few_boxes)]) != 0
    assert "--attribution" in capsys.readouterr().err


def test_tiles_are_served_with_their_kind_and_the_public_pages_have_none(
    with_background: Path, serve: Serve
) -> None:
    address = serve(with_background).address
    known = background_of(with_background)
    assert known is not None
    columns, rows = tile_span(known.bounds, 15)
    url = httpx.get(f"{address}/map/ground").json()["background"]["url"]
    tile = f"15-{columns[0]}-{rows[0]}"
    found = httpx.get(f"{address}{url.replace('{z}-{x}-{y}', tile)}")
    assert (found.status_code, found.headers["content-type"]) == (200, "image/png")
    assert httpx.get(f"{address}/map/background/other/{tile}").status_code == 204
    assert httpx.get(f"{address}/map/background/{known.version}/15-0-0").status_code == 204
    west, south, east, north = known.bounds
    query = {"west": west, "south": south, "east": east, "north": north}
    zooms = httpx.get(f"{address}/map/background", params=query).json()
    assert [one["zoom"] for one in zooms] == [13, 14, 15, 16]
    assert [columns[0], rows[0]] in zooms[2]["tiles"]
    assert zooms[2]["size_bytes"] > len(found.content)
    for page in ("", "list", "about"):
        assert "background/" not in httpx.get(f"{address}/open/{page}").text
    assert main(["remove", "background", str(with_background)]) == 0
    assert "background" not in httpx.get(f"{address}/map/ground").json()


@pytest.mark.browser
@pytest.mark.parametrize(
    "with_background",
    ["mbtiles", "gpkg", pytest.param("tif", marks=pytest.mark.long)],
    indirect=True,
)
def test_the_pictures_are_seen_on_the_map_and_in_the_woods_without_a_signal(
    with_background: Path, serve: Serve, browser: Browser
) -> None:
    address = serve(with_background).address
    context = browser.new_context(viewport={"width": 390, "height": 844})
    page = context.new_page()
    page.goto(address)
    page.wait_for_function(SHOWN)
    expect(page.locator(".leaflet-control-attribution")).to_have_text(f"{WHOSE}, CC0")
    page.locator("#panel > summary").click()
    page.get_by_label("Pictures").press("ArrowRight")
    expect(page.locator("img.leaflet-tile")).to_have_count(0)

    page.goto(f"{address}/field?set=boxes&order=given&boxes=M01,M02")
    page.evaluate("() => navigator.serviceWorker.ready")
    page.reload()
    page.locator(".pictures summary").click(timeout=60_000)
    expect(page.get_by_label("Detail").locator("option").first).to_contain_text(" MB")
    page.get_by_label("Area").select_option("the whole trail")
    page.get_by_role("button", name="Keep them").click()
    expect(page.locator(".pictures")).to_contain_text("pictures are on this device")
    context.set_offline(True)
    page.reload()
    page.wait_for_function(SHOWN)
    expect(page.locator(".leaflet-control-attribution")).to_have_text(f"{WHOSE}, CC0")
    context.close()
