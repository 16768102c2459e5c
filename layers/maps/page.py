"""The map's page: a Folium map whose boxes our own script draws from packed data.

Nothing is loaded from elsewhere: the page names its own scripts and styles, or
holds them (`self_contained_page`). Text from the trail reaches the page as JSON or
escaped by a template; the script sets text as text, and only a card that a template
made as HTML.
"""

from __future__ import annotations

import base64
import gzip
import hashlib
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Any, Protocol

import folium
import orjson
from branca.element import Element, Figure, MacroElement
from jinja2 import Template as JinjaTemplate

from layers.maps.bundle import bundle
from layers.maps.fragments import card_html, rendered

ASSETS = Path(__file__).parent / "assets"
"""Styles and Leaflet; a server offers this folder under `assets_url`."""

LEAFLET, SCRIPT = "leaflet/leaflet.js", "main.js"
STYLES = ("leaflet/leaflet.css", "calendar.css", "map.css")

CARDS_A_CHUNK = 50
"""Cards that are unpacked together when one of them is opened in a self-contained page."""

_CHARSET = '<meta charset="utf-8">'


@dataclass(frozen=True)
class Tiles:
    """Online map tiles to lie beneath everything; off unless the keeper asks for them."""

    url: str
    attribution: str


@dataclass(frozen=True)
class Sources:
    """Where the page's script finds its data: addresses, or `#id` of an element in the page.

    `season` holds `{season}` to fill in, `card` `{box}` (encoded). `due` and `card` may
    hold `{day}`; without it they are those of the day on which the map opens. `due` is None
    where what is due is not shown.
    """

    base: str
    season: str
    ground: str
    card: str
    due: str | None = None


class _Page(Figure):
    """The document around the map: language, viewport that may be zoomed, no script of others."""

    _template = JinjaTemplate(
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n'
        "{% for name, element in this.header._children.items() %}{{element.render(**kwargs)}}"
        "{% endfor %}\n</head>\n<body>\n"
        "{% for name, element in this.html._children.items() %}{{element.render(**kwargs)}}"
        "{% endfor %}\n"
        "<script>\n"
        "{% for name, element in this.script._children.items() %}{{element.render()}}"
        "{% endfor %}</script>\n</body>\n</html>\n"
    )


class _TrailMap(folium.Map):
    """A Folium map with our scripts only, and without the styles it writes about itself."""

    _template = JinjaTemplate(
        "{% macro header(this, kwargs) %}{% endmacro %}"
        "{% macro html(this, kwargs) %}"
        '<div id="{{this.get_name()}}" class="map"></div>{% endmacro %}'
        "{% macro script(this, kwargs) %}"
        'var {{this.get_name()}} = L.map("{{this.get_name()}}", '
        "{center: {{this.location|tojson}}, zoom: 2, zoomControl: false, zoomSnap: 0.5, "
        "trackResize: false, preferCanvas: true, ...((moves) => ({zoomAnimation: moves, "
        "fadeAnimation: moves, inertia: moves}))"
        "(!matchMedia('(prefers-reduced-motion: reduce)').matches)});\n"
        "{% endmacro %}"
    )


class _BoxLayer(MacroElement):
    """Hands the map that it is added to, and the settings, to our script, which runs later."""

    _template = JinjaTemplate(
        "{% macro script(this, kwargs) %}"
        "window.boxround = {map: {{this._parent.get_name()}}, "
        "settings: {{this.settings|tojson}}};\n"
        "{% endmacro %}"
    )

    def __init__(self, settings: Mapping[str, Any]) -> None:
        super().__init__()  # type: ignore[no-untyped-call]
        self._name = "BoxLayer"
        self.settings = settings


class PageLink(Protocol):
    """A link to another page; a `roomy` one is in the head only where the screen is wide."""

    @property
    def label(self) -> str: ...

    @property
    def address(self) -> str: ...

    @property
    def roomy(self) -> bool: ...


def map_page(
    *,
    title: str,
    sources: Sources,
    assets_url: str,
    scripts_url: str,
    links: Sequence[PageLink] = (),
    theme: str | None = None,
    tiles: Tiles | None = None,
    known: str = "today",
) -> str:
    """The page of a map, as HTML.

    Parameters
    ----------
    title
        The trail's name.
    assets_url, scripts_url
        Addresses of the folders `ASSETS` and `bundle.SCRIPTS`, without a slash at their end.
    links
        Other pages, for the page's head.
    theme
        The theme to open with; None = the first.
    known
        When the visits were known by which the map shows every day: a season is played with
        hindsight.
    """
    trail_map = _TrailMap(location=(0, 0), tiles=None)
    # New lists: Folium's own are shared by every map of the process.
    trail_map.default_js = []
    trail_map.default_css = []
    trail_map._name, trail_map._id = "trail", "map"
    page = _Page()
    page.header.add_child(
        Element(
            rendered(
                "head.html",
                title=title,
                styles=[f"{assets_url}/{name}" for name in STYLES],
                leaflet=f"{assets_url}/{LEAFLET}",
                script=f"{scripts_url}/{SCRIPT}",
            )
        ),
        name="head",
    )
    frame = rendered("frame.html", title=title, links=links, known=known)
    page.html.add_child(Element(frame), name="frame")
    settings = {
        "sources": vars(sources),
        "theme": theme,
        "tiles": None if tiles is None else vars(tiles),
    }
    trail_map.add_child(_BoxLayer(settings))
    trail_map.add_to(page)
    html: str = page.render()
    return html


def self_contained_page(
    *,
    title: str,
    base: bytes,
    seasons: Mapping[int, bytes],
    ground: bytes,
    cards: Iterable[Mapping[str, Any]],
    due: bytes,
    theme: str | None = None,
    known: str = "today",
) -> str:
    """The map as one file that opens from disk without a network.

    Parameters
    ----------
    base, seasons, ground
        The payloads of `layers.maps.payload`; only the seasons given can be shown.
    cards
        The card of each box, in the order of the boxes; taken a few at a time.
    due
        What is due on the day the map opens on, the only one for which it is known.
    known
        As for `map_page`.
    """
    sources = Sources(
        "#base", "#season-{season}", "#ground", f"#cards-{{chunk:{CARDS_A_CHUNK}}}", due="#due"
    )
    html = map_page(
        title=title,
        sources=sources,
        assets_url="assets",
        scripts_url="scripts",
        theme=theme,
        known=known,
    )
    held = [_held("base", base), _held("ground", ground), _held("due", due)]
    held += [_held(f"season-{season}", body) for season, body in seasons.items()]
    for number, chunk in enumerate(_chunks(cards)):
        cards_of_chunk = [card_html(card, linked=False) for card in chunk]
        held.append(_held(f"cards-{number}", orjson.dumps(cards_of_chunk)))
    html = re.sub(r'<link rel="stylesheet" href="assets/(.*?)">', _held_style, html)
    leaflet = (ASSETS / LEAFLET).read_text(encoding="utf-8")
    html = html.replace(f'<script src="assets/{LEAFLET}"></script>', _script(leaflet), 1)
    html = html.replace(f'<script type="module" src="scripts/{SCRIPT}"></script>', "", 1)
    # Our script runs last, as the server's page has it.
    html = html.replace("</body>", f"{_script(bundle(SCRIPT))}\n</body>", 1)
    head, end, rest = html.partition("</head>")
    head = head.replace(_CHARSET, f"{_CHARSET}\n{_sealed(html)}", 1)
    return "".join([head, end, rest.replace("<script>\n", "".join(held) + "<script>\n", 1)])


def _held(name: str, body: bytes) -> str:
    text = base64.b64encode(gzip.compress(body, 9, mtime=0)).decode()
    return f'<script type="text/plain" id="{name}">{text}</script>\n'


def _chunks(cards: Iterable[Mapping[str, Any]]) -> Iterator[list[Mapping[str, Any]]]:
    remaining = iter(cards)
    while chunk := list(islice(remaining, CARDS_A_CHUNK)):
        yield chunk


def _sealed(html: str) -> str:
    """A content policy for a file that is passed on: it runs what it holds and asks for nothing."""
    scripts, styles = inline_hashes(html)
    policy = (
        f"default-src 'none'; script-src {' '.join(scripts)}; style-src {' '.join(styles)}; "
        "img-src data:; base-uri 'none'; form-action 'none'"
    )
    return f'<meta http-equiv="Content-Security-Policy" content="{policy}">'


def _held_style(found: re.Match[str]) -> str:
    css = (ASSETS / found[1]).read_text(encoding="utf-8")
    # Leaflet's marker pictures are not used; without the files they are left out.
    css = re.sub(r"url\((?!#)[^)]*\)", "none", css)
    return f"<style>\n{css}</style>"


def _script(text: str) -> str:
    return "<script>\n" + text.replace("</script", "<\\/script") + "</script>"


def inline_hashes(html: str) -> tuple[list[str], list[str]]:
    """What a content policy must allow of a page's inline scripts, and of its styles.

    Sources like `'sha256-...'` for the inline scripts that run and for the inline
    style blocks (W3C Content Security Policy Level 3, 2.3.1).
    """
    scripts = re.findall(r"<script>(.*?)</script>", html, flags=re.DOTALL)
    styles = re.findall(r"<style>(.*?)</style>", html, flags=re.DOTALL)
    return [_hash(text) for text in scripts], [_hash(text) for text in styles]


def _hash(text: str) -> str:
    digest = hashlib.sha256(text.encode()).digest()
    return f"'sha256-{base64.b64encode(digest).decode()}'"
