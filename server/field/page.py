"""The field page, and what keeps it on a phone: its service worker and its manifest."""

from __future__ import annotations

import hashlib
import json
import re
from functools import cache
from typing import Annotated

from fastapi import APIRouter, Query, Request, Response
from starlette.responses import JSONResponse

from server.web.queries import Nothing
from server.web.responses import Live, cached_page
from server.web.templating import static_file, static_folders

router = APIRouter(include_in_schema=False)

_WORKER_HEADERS = {"Service-Worker-Allowed": "/field", "Cache-Control": "no-cache"}
_IMPORTED = re.compile(r'from "([^"]+\.js)"')
_IMPORTED_LATER = re.compile(r'import\("([^"]+\.js)"\)')
_BESIDE = (
    "/static/field/field.css",
    "/static/web/site.css",
    "/static/web/icon.svg",
    "/static/map/leaflet/leaflet.css",
    "/static/map/leaflet/leaflet.js",
    "/static/rounds/round.css",
    "/field/manifest.webmanifest",
)
"""What the page needs beside its modules."""


@router.get("/field")
def field_page(request: Request, live: Live) -> Response:
    """The page: the same for every round, which its address names for its script alone."""
    # Loaded at once rather than each after the one that imports it.
    modules = _modules(_IMPORTED)
    return cached_page(request, live.contents(), "field.html", {"modules": modules})


@router.get("/field/manifest.webmanifest")
def manifest(live: Live, query: Annotated[Nothing, Query()]) -> Response:
    """What a phone needs to know to put the page on its home screen."""
    del query
    icons = [{"src": "/static/web/icon.svg", "sizes": "any", "type": "image/svg+xml"}]
    body = {
        "name": f"{live.contents().settings.name}: in the woods",
        "short_name": "In the woods",
        "id": "/field",
        "start_url": "/field",
        "scope": "/field",
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
    version = f"{request.app.state.edition}-{_digest(files)}"
    shell = json.dumps({"version": version, "files": ["/field", *files]})
    body = f"self.SHELL = {shell};\n{static_file('field', 'worker.js').read_text(encoding='utf-8')}"
    return Response(body, media_type="text/javascript", headers=_WORKER_HEADERS)


@cache
def shell_files() -> tuple[str, ...]:
    """Addresses of all that the page is made of, its modules with all that they ever import."""
    return (*_modules(_IMPORTED, _IMPORTED_LATER), *_BESIDE)


@cache
def _modules(*patterns: re.Pattern[str]) -> tuple[str, ...]:
    """The modules that the page's own imports, and those that they import, by these patterns."""
    found: list[str] = []
    waiting = ["/static/field/field.js"]
    while waiting:
        address = waiting.pop()
        if address in found:
            continue
        found.append(address)
        text = _text(address)
        for name in (name for pattern in patterns for name in pattern.findall(text)):
            folder = address.rsplit("/", 1)[0]
            waiting.append(name if name.startswith("/") else f"{folder}/{name.removeprefix('./')}")
    return tuple(sorted(found))


def _text(address: str) -> str:
    _, _, folder, name = address.split("/", 3)
    return (static_folders()[folder] / name).read_text(encoding="utf-8")


@cache
def _digest(files: tuple[str, ...]) -> str:
    made = hashlib.blake2s(digest_size=6)
    for address in files:
        if address.startswith("/static/"):
            made.update(_text(address).encode())
    made.update(static_file("field", "worker.js").read_bytes())
    return made.hexdigest()
