"""`boxround publish`: a folder for any web host, that opens from disk and asks for nothing."""

from __future__ import annotations

import gzip
import json
import re
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from PIL import Image
from playwright.sync_api import Browser, Page, expect

from server.command import main
from server.public.command import MARK

MOVED = """window.moved = 0;
new PerformanceObserver((list) => list.getEntries().forEach((one) => {
    window.moved += one.value;
})).observe({ type: "layout-shift", buffered: true });"""
PAGES = ("index.html", "list.html", "seasons.html", "about.html", "embed.html")
SIZES = ((1280, 800), (390, 844))
ON = "2026-11-03"


@pytest.fixture(scope="module")
def folder(built: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("published") / "site"
    assert main(["publish", str(built), "-o", str(made), "--on", ON]) == 0
    return made


@contextmanager
def hosted(folder: Path) -> Iterator[str]:
    """The folder on a plain file server, below a path, as many hosts have it."""

    class Quiet(SimpleHTTPRequestHandler):
        def log_message(self, *_: object) -> None:
            """Say nothing."""

    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(Quiet, directory=str(folder.parent)))
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}/{folder.name}/"
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


@pytest.fixture(scope="module", params=["disk", "host"])
def where(request: pytest.FixtureRequest, folder: Path) -> Iterator[str]:
    if request.param == "disk":
        yield f"{folder.as_uri()}/"
    else:
        with hosted(folder) as address:
            yield address


@contextmanager
def page_of(browser: Browser, *, width: int, height: int, **options: Any) -> Iterator[Page]:
    context = browser.new_context(viewport={"width": width, "height": height}, **options)
    page = context.new_page()
    trouble: list[str] = []
    page.on("pageerror", lambda error: trouble.append(str(error)))
    page.on("requestfailed", lambda request: trouble.append(request.url))
    page.on("console", lambda told: trouble.append(told.text) if told.type == "error" else None)
    try:
        yield page
    finally:
        context.close()
    assert trouble == []


# The folder


def test_the_folder_holds_the_pages_and_the_data(folder: Path) -> None:
    names = {path.name for path in folder.iterdir()}
    data = {"cells.geojson", "cells.csv", "nests.csv", "dictionary.csv", "about.txt", "card.png"}
    assert names >= {*PAGES, *data, "leaflet-licence.txt", MARK}


def test_the_same_trail_and_day_give_the_same_bytes(
    built: Path, folder: Path, tmp_path: Path
) -> None:
    assert main(["publish", str(built), "-o", str(tmp_path / "b"), "--on", ON]) == 0
    for path in folder.iterdir():
        assert (tmp_path / "b" / path.name).read_bytes() == path.read_bytes(), path.name


def test_an_own_folder_is_written_again(trail_path: Path, tmp_path: Path) -> None:
    made = tmp_path / "site"
    asked = ["publish", str(trail_path), "-o", str(made), "--on"]
    assert main([*asked, "2025-01-01"]) == 0
    before = (made / "nests.csv").read_bytes()
    assert main([*asked, ON]) == 0
    assert (made / "nests.csv").read_bytes() != before
    assert [path.name for path in tmp_path.iterdir() if path.name.startswith(".")] == []


def test_an_empty_folder_is_used(trail_path: Path, tmp_path: Path) -> None:
    (tmp_path / "site").mkdir()
    assert main(["publish", str(trail_path), "-o", str(tmp_path / "site")]) == 0


def test_a_folder_with_files_of_others_is_refused_and_left_alone(
    trail_path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "thesis.txt").write_text("years of work")
    assert main(["publish", str(trail_path), "-o", str(tmp_path)]) == 2
    assert "holds thesis.txt" in capsys.readouterr().err
    assert {path.name for path in tmp_path.iterdir()} == {"thesis.txt", trail_path.name}


def test_what_others_put_into_an_own_folder_is_not_lost(
    trail_path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    made = tmp_path / "site"
    assert main(["publish", str(trail_path), "-o", str(made)]) == 0
    (made / "CNAME").write_text("example.org")
    assert main(["publish", str(trail_path), "-o", str(made)]) == 2
    assert "holds CNAME" in capsys.readouterr().err
    assert (made / "CNAME").read_text() == "example.org"


def test_a_file_in_the_place_of_the_folder_is_refused(
    trail_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["publish", str(trail_path), "-o", str(trail_path)]) == 2
    assert "Expected a folder" in capsys.readouterr().err


def test_a_closed_trail_is_not_published(
    trail_path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["settings", str(trail_path), "--public", "open=no"]) == 0
    assert main(["publish", str(trail_path), "-o", str(tmp_path / "site")]) == 2
    assert "closed" in capsys.readouterr().err
    assert not (tmp_path / "site").exists()


@pytest.mark.parametrize("url", ["example.org", "javascript:alert(1)", 'https://a.b/"><x'])
def test_an_address_that_is_none_is_refused(
    trail_path: Path, tmp_path: Path, url: str, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = ["publish", str(trail_path), "-o", str(tmp_path / "site"), "--public-url", url]
    assert main(asked) == 2
    assert "an address like https://" in capsys.readouterr().err


def test_what_is_generalised_and_withheld_is_printed(
    trail_path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["publish", str(trail_path), "-o", str(tmp_path / "site")]) == 0
    printed = capsys.readouterr().out
    assert "fixed geographic grid" in printed
    assert "Withheld for every box" in printed


# The data


def test_the_data_says_what_was_generalised_and_withheld_and_its_licence(folder: Path) -> None:
    held = json.loads((folder / "cells.geojson").read_bytes())
    assert held["generalised"]
    assert held["withheld"]
    assert held["licence"] == "CC BY 4.0"
    about = (folder / "about.txt").read_text("utf-8")
    assert all(sentence in about for sentence in [*held["generalised"], *held["withheld"]])
    rows = (folder / "cells.csv").read_text("utf-8").splitlines()
    assert all("grid cell of 0." in row for row in rows[1:])


def test_the_picture_has_its_size_and_no_metadata(folder: Path) -> None:
    with Image.open(folder / "card.png") as picture:
        assert picture.size == (1200, 630)
        assert picture.info.keys() <= {"dpi"}


# The pages


def test_the_first_page_begins_with_the_season_and_its_numbers_add_up(folder: Path) -> None:
    text = (folder / "index.html").read_text("utf-8")
    story = re.search(r'<p class="story">(.*?)</p>', text, re.S)
    assert story is not None
    words = re.sub(r"<[^>]+>", "", story[1])
    assert re.match(r"In 2026 \d+ of 5\d boxes have held a finished nest; about \d+0 young", words)
    # Under 150 words a minute, read aloud in less than half of one.
    assert len(words.split()) < 70
    for total, parts in re.findall(
        r"(\d+) finished nests?(?: are published[^:]*)?: ([^.]+)\.", text
    ):
        assert sum(map(int, re.findall(r"\d+", parts))) == int(total)
    young = re.search(r"about (\d+) young birds \(([^)]+)\)", words)
    assert young is not None
    assert sum(map(int, re.findall(r"\d+", young[2]))) == int(young[1])


def test_the_first_page_with_all_it_needs_weighs_under_200_kb_compressed(folder: Path) -> None:
    needed = ("index.html", "leaflet.css", "open.css", "leaflet.js", "map.js", "icon.svg")
    assert sum(len(gzip.compress((folder / name).read_bytes())) for name in needed) < 100_000


def test_pages_name_nothing_outside_of_the_folder(folder: Path) -> None:
    here = {path.name for path in folder.iterdir()}
    for name in (*PAGES, "open.css", "leaflet.css"):
        text = (folder / name).read_text("utf-8")
        links = re.findall(r"""(?:href|src)="([^"#]+)""", text)
        links += re.findall(r"url\(([^)#]+)\)", text)
        assert set(links) <= here, name


@pytest.mark.parametrize(("width", "height"), SIZES)
@pytest.mark.parametrize("name", PAGES)
def test_every_page_is_accessible_and_fits_its_screen(
    browser: Browser, where: str, name: str, width: int, height: int
) -> None:
    if where.startswith("file:") and width > 390:
        pytest.skip("a folder's pages are those of the host, byte for byte")
    with page_of(browser, width=width, height=height) as page:
        page.goto(f"{where}{name}")
        # Styles are read from the page: a file on disk may not be asked for by a script.
        report = Axe().run(page, options={"preload": False})
        assert report.violations_count == 0, report.generate_report()
        wider = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
        assert wider <= 0


def test_a_cell_of_the_map_shows_what_is_in_it_by_mouse_and_keyboard(
    browser: Browser, where: str
) -> None:
    with page_of(browser, width=1280, height=800) as page:
        page.goto(f"{where}index.html")
        marker = page.get_by_role("button", name=re.compile(r"^5\d boxes, \d+ nested"))
        marker.click()
        popup = page.locator(".leaflet-popup-content")
        expect(popup).to_contain_text(re.compile(r"\d+ nests published of all seasons"))
        page.keyboard.press("Escape")
        marker.focus()
        page.keyboard.press("Enter")
        expect(popup).to_contain_text("house wren")


@pytest.mark.parametrize("width", [390, 1280])
@pytest.mark.parametrize("name", ["index.html", "embed.html"])
def test_nothing_moves_while_the_page_comes(
    browser: Browser, where: str, name: str, width: int
) -> None:
    """Layout Instability as browsers measure it (W3C draft, `layout-shift` entries)."""
    with page_of(browser, width=width, height=844) as page:
        page.add_init_script(MOVED)
        page.goto(f"{where}{name}")
        expect(page.get_by_role("button", name=re.compile(r"^5\d boxes"))).to_be_visible()
        assert page.evaluate("() => window.moved") == 0


@pytest.mark.parametrize("name", ["index.html", "embed.html"])
def test_without_javascript_the_list_is_there(browser: Browser, where: str, name: str) -> None:
    with page_of(browser, width=390, height=844, java_script_enabled=False) as page:
        page.goto(f"{where}{name}")
        expect(page.locator("#map")).to_be_hidden()
        expect(page.get_by_text("42.605° N 77.905° W")).to_be_visible()
        expect(page.get_by_text("white-breasted nuthatch").first).to_be_visible()


def test_the_map_shows_in_a_page_of_another_site(
    browser: Browser, folder: Path, tmp_path: Path
) -> None:
    other = tmp_path / "other"
    other.mkdir()
    with hosted(folder) as address, hosted(other) as elsewhere:
        frame = f'<iframe src="{address}embed.html" title="x" height="420"></iframe>'
        (other / "index.html").write_text(f'<link rel="icon" href="data:,">{frame}')
        with page_of(browser, width=800, height=600) as page:
            page.goto(elsewhere)
            inside = page.frame_locator("iframe")
            expect(inside.get_by_role("button", name=re.compile(r"^5\d boxes"))).to_be_visible()
