"""The field page, and what keeps it on a phone: its service worker and its manifest."""

from __future__ import annotations

import hashlib
import json
import re
from functools import cache
from typing import Annotated

from fastapi import APIRouter, Query, Request, Response
from starlette.responses import JSONResponse

from layers.maps.bundle import bundle
from server.web.base import at, base
from server.web.queries import Nothing
from server.web.responses import Live, cached_page
from server.web.templating import static_file, static_folders

router = APIRouter(include_in_schema=False)

_SCRIPT = "/static/field/field.js"
_MAP = "/static/field/day_map.js"
_IMPORTED = re.compile(r'from "([^"]+\.js)"')
_STYLES = ("/static/web/site.css", "/static/rounds/round.css", "/static/field/field.css")
_BESIDE = (
    "/field/page.js",
    "/field/page.css",
    "/static/web/icon.svg",
    "/static/map/leaflet/leaflet.css",
    "/static/map/leaflet/leaflet.js",
    "/field/manifest.webmanifest",
)
"""What the page needs beside the modules of its map."""


@router.get("/field")
def field_page(request: Request, live: Live) -> Response:
    """The page: the same for every round, which its address names for its script alone."""
    return cached_page(request, live.contents(), "field.html", {})


@router.get("/field/page.js")
def script(request: Request, query: Annotated[Nothing, Query()]) -> Response:
    """The page's modules but for the map's, as one: a slow phone takes long over each file."""
    del query
    return _joined(request, bundle(_SCRIPT, _text), "text/javascript")


@router.get("/field/page.css")
def styles(request: Request, query: Annotated[Nothing, Query()]) -> Response:
    """The page's styles, as one."""
    del query
    return _joined(request, "".join(map(_text, _STYLES)), "text/css")


def _joined(request: Request, body: str, media_type: str) -> Response:
    headers = {"ETag": f'W/"{request.app.state.edition}-{_digest()}"', "Cache-Control": "no-cache"}
    return Response(body, media_type=media_type, headers=headers)


@router.get("/field/manifest.webmanifest")
def manifest(live: Live, query: Annotated[Nothing, Query()]) -> Response:
    """What a phone needs to know to put the page on its home screen."""
    del query
    icons = [{"src": "/static/web/icon.svg", "sizes": "any", "type": "image/svg+xml"}]
    body = {
        "name": f"{live.contents().settings.name}: in the woods",
        "short_name": "In the woods",
        "id": at("/field"),
        "start_url": at("/field"),
        "scope": at("/field"),
        "display": "standalone",
        "background_color": "#ffffff",
        "theme_color": "#1d2a26",
        "icons": icons,
    }
    return JSONResponse(body, media_type="application/manifest+json")


@router.get("/field/worker.js")
def worker(request: Request, query: Annotated[Nothing, Query()]) -> Response:
    """The script that keeps the page; it changes when any file of the page changes."""
    del query
    files = shell_files()
    version = f"{request.app.state.edition}-{_digest()}"
    page, *beside = map(at, ("/field", *files))
    shell = json.dumps({"version": version, "base": base(), "page": page, "files": [page, *beside]})
    body = f"self.SHELL = {shell};\n{static_file('field', 'worker.js').read_text(encoding='utf-8')}"
    headers = {"Service-Worker-Allowed": page, "Cache-Control": "no-cache"}
    return Response(body, media_type="text/javascript", headers=headers)


@cache
def shell_files() -> tuple[str, ...]:
    """Addresses of all that the page is made of: what was joined, and the map with its modules."""
    found: list[str] = []
    waiting = [_MAP]
    while waiting:
        address = waiting.pop()
        if address in found:
            continue
        found.append(address)
        for name in _IMPORTED.findall(_text(address)):
            folder = address.rsplit("/", 1)[0]
            waiting.append(name if name.startswith("/") else f"{folder}/{name.removeprefix('./')}")
    return (*sorted(found), *_BESIDE)


def _text(address: str) -> str:
    _, _, folder, name = address.split("/", 3)
    return (static_folders()[folder] / name).read_text(encoding="utf-8")


@cache
def _digest() -> str:
    """Changes with the text of any file of the page."""
    made = hashlib.blake2s(bundle(_SCRIPT, _text).encode(), digest_size=6)
    for address in (*_STYLES, *shell_files()):
        if address.startswith("/static/"):
            made.update(_text(address).encode())
    made.update(static_file("field", "worker.js").read_bytes())
    return made.hexdigest()
