"""The page itself: nothing from elsewhere, nothing unescaped, a policy that fits."""

from __future__ import annotations

import base64
import hashlib
import re
from pathlib import Path

import folium
import pytest

from layers.maps.bundle import SCRIPTS, bundle
from layers.maps.page import (
    ASSETS,
    LEAFLET,
    SCRIPT,
    STYLES,
    Sources,
    Tiles,
    inline_hashes,
    map_page,
)
from server.web.feature import Link
from tests.maps.made import HOSTILE, self_contained

SERVER = Path(__file__).parents[2] / "server"
SOURCES = Sources("/map/base", "/map/season/{season}", "/map/ground", "/api/boxes/{box}")


def page(**more: object) -> str:
    given = {
        "title": f"Trail {HOSTILE}",
        "sources": SOURCES,
        "assets_url": "/static/map",
        "scripts_url": "/static/js",
    } | more
    return map_page(**given)  # type: ignore[arg-type]


def test_a_page_names_no_address_but_its_own() -> None:
    addresses = re.findall(r"(?:src|href)=\"([^\"]*)\"", page())
    own = {f"/static/map/{name}" for name in (*STYLES, LEAFLET)} | {f"/static/js/{SCRIPT}"}
    # An empty picture stands for the icon, so that browsers do not ask for one.
    assert set(addresses) == own | {"#find-box", "data:,"}
    assert "://" not in page()


def test_a_map_says_that_it_is_played_with_hindsight() -> None:
    assert "Every day is shown with all visits known today." in page()
    assert "all visits known on 3 June 2026." in page(known="on 3 June 2026")


def test_every_script_and_style_named_is_there() -> None:
    for name in (LEAFLET, *STYLES):
        assert (ASSETS / name).is_file(), name
    assert "BSD 2-Clause" in (ASSETS / "leaflet" / "LICENSE").read_text()


def test_text_of_the_trail_is_escaped() -> None:
    for html in (page(), page(theme=f"</script>{HOSTILE}"), self_contained()):
        assert "window.broken = 1</script>" not in html
        assert "<img" not in html


def test_making_a_page_leaves_folium_as_it_was() -> None:
    scripts, styles = list(folium.Map.default_js), list(folium.Map.default_css)
    page()
    assert folium.Map.default_js == scripts
    assert folium.Map.default_css == styles
    assert any("jquery" in address for _, address in folium.Map.default_js)


def test_the_same_trail_gives_the_same_page() -> None:
    assert page() == page()


def test_hashes_are_those_of_the_inline_scripts() -> None:
    scripts, styles = inline_hashes(page())
    text = re.findall(r"<script>(.*?)</script>", page(), flags=re.DOTALL)
    assert scripts == [
        f"'sha256-{base64.b64encode(hashlib.sha256(part.encode()).digest()).decode()}'"
        for part in text
    ]
    assert len(scripts) == 1
    assert styles == []


def test_no_handler_and_no_style_is_in_the_html() -> None:
    assert not re.search(r"<[^>]*\s(style|on\w+)=", page())


def test_online_tiles_are_off_by_default() -> None:
    assert '"tiles": null' in page()
    tiles = Tiles("https://tiles.invalid/{z}/{x}/{y}.png", "The <b>tile</b> makers")
    assert "https://tiles.invalid/" in page(tiles=tiles)


def test_a_page_may_be_zoomed_and_says_its_language() -> None:
    assert '<html lang="en">' in page()
    assert "user-scalable" not in page()


def test_a_self_contained_page_holds_all_it_needs() -> None:
    html = self_contained()
    assert not re.search(r'<(script|link)[^>]*(src|href)="(?!data:)', html)
    assert not re.search(r"url\((?!#)", html)
    for name in ("base", "ground", "due", "season-2025", "season-2026", "cards-0", "cards-1"):
        assert f'id="{name}"' in html


SETS_HTML = re.compile(
    r".*\b(?:innerHTML|outerHTML|insertAdjacentHTML|document\.write|eval)\b.*"
    # What Leaflet takes as HTML if it is text.
    r"|.*\b(?:(?:bind|set)(?:Tooltip|Popup)\w*|setContent|divIcon)\(.*|.*\b(?:html|attribution):.*"
)
HARMLESS = {
    "card.js": ["body.innerHTML = html;"],  # a template made and escaped it
    "chosen.js": ["{ on: string, html: string }", "html: await loadCard("],  # for card.js
    "public.js": [
        "L.divIcon({ className, html, iconSize: roomy",  # an element, from `make`
        "marker.bindPopup(cardOf(cell), {",  # as above
    ],
    "trail_map.js": ["attribution: words,", 'html: "",'],  # words from `make`; nothing
    "round_map.js": ['L.divIcon({ className: "way-arrow", html,'],  # numbers alone
    "species.js": ["drawing.innerHTML = species.drawing;"],  # a drawing of our own
}
"""Lines of scripts that set HTML and do not make it of text by `make` of `dom.js`."""


@pytest.mark.parametrize(
    "script", [*SCRIPTS.glob("*.js"), *SERVER.glob("*/static/*.js")], ids=lambda path: path.name
)
def test_text_reaches_a_page_by_one_function_that_makes_no_html_of_it(script: Path) -> None:
    lines = [line for line in SETS_HTML.findall(script.read_text("utf-8")) if "make(" not in line]
    known = [part for part in HARMLESS.get(script.name, []) if any(part in line for line in lines)]
    assert len(known) == len(lines), lines
    assert known == HARMLESS.get(script.name, [])


def test_that_function_sets_text_as_text() -> None:
    assert "createElement" in (dom := (SCRIPTS / "dom.js").read_text("utf-8"))
    assert not SETS_HTML.search(dom)


def test_a_self_contained_page_allows_its_own_scripts_and_asks_for_nothing() -> None:
    html = self_contained()
    found = re.search(r'<meta http-equiv="Content-Security-Policy" content="([^"]*)">', html)
    assert found is not None
    policy = dict(part.split(" ", 1) for part in found[1].split("; "))
    scripts, styles = inline_hashes(html)
    assert policy["default-src"] == "'none'"
    assert policy["script-src"].split() == scripts
    assert policy["style-src"].split() == styles
    assert "connect-src" not in policy
    assert html.index("Content-Security-Policy") < html.index("<style>") < html.index("<script>")


def test_a_map_without_scripts_points_to_the_pages_that_need_none() -> None:
    (shown,) = re.findall(r"<noscript>(.*?)</noscript>", page(links=[Link("List", "/list")]))
    assert '<a href="/list">List</a>' in shown
    (alone,) = re.findall(r"<noscript>(.*?)</noscript>", self_contained())
    assert "<a" not in alone


@pytest.mark.parametrize("entry", ["main.js", "public.js"])
def test_a_bundle_holds_each_module_once_and_no_import(entry: str) -> None:
    script = bundle(entry)
    assert not re.search(r"^(import|export)\b", script, flags=re.MULTILINE)
    assert script.count("const module_dom =") == 1
    assert script.index("const module_dom =") < script.index("const module_trail_map =")
