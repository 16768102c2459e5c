"""A bare HTTP server for one map page, with the content policy that the real one sends."""

from __future__ import annotations

import datetime as dt
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from urllib.parse import parse_qsl, unquote, urlsplit

from layers.maps.bundle import SCRIPTS
from layers.maps.fragments import card_html
from layers.maps.page import ASSETS, Sources, inline_hashes, map_page
from server.web.feature import Link
from tests.maps.made import SETTINGS, due_data, made

KINDS = {"js": "text/javascript", "css": "text/css"}


@contextmanager
def served() -> Iterator[str]:
    """The address of a server that answers what a map page asks for."""
    trail = made()
    html = map_page(
        title=SETTINGS.name,
        sources=Sources(
            base="/base",
            season="/season/{season}",
            ground="/ground",
            card="/card/{box}?on={day}",
            due="/due?on={day}",
        ),
        assets_url="/assets",
        scripts_url="/scripts",
        links=[Link(word, f"/{word.lower()}") for word in ("List", "Due", "Round", "Help")],
    )
    scripts, styles = inline_hashes(html)
    policy = (
        f"default-src 'none'; script-src 'self' {' '.join(scripts)}; "
        f"style-src 'self' {' '.join(styles)}; img-src 'self' data:; connect-src 'self'; "
        "base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
    )
    place_of = {box: at for at, box in enumerate(trail.boxes["box"])}

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            asked = urlsplit(self.path)
            found = self.found(unquote(asked.path), dict(parse_qsl(asked.query)))
            self.send_response(200 if found else 404)
            kind, body = found or ("text/plain", b"nothing here")
            self.send_header("Content-Type", kind)
            self.send_header("Content-Length", str(len(body)))
            self.send_header("Content-Security-Policy", policy)
            self.end_headers()
            self.wfile.write(body)

        def found(self, path: str, asked: dict[str, str]) -> tuple[str, bytes] | None:
            if path == "/":
                return "text/html; charset=utf-8", html.encode()
            if path.startswith("/assets/"):
                return KINDS[path.rsplit(".", 1)[1]], (ASSETS / path[8:]).read_bytes()
            if path.startswith("/scripts/"):
                return KINDS["js"], (SCRIPTS / path[9:]).read_bytes()
            if path.startswith("/season/"):
                return "application/octet-stream", trail.seasons[int(path[8:])]
            if path == "/due":
                return "application/octet-stream", due_data(dt.date.fromisoformat(asked["on"]))
            if path.startswith("/card/") and path[6:] in place_of:
                card = trail.card(place_of[path[6:]], dt.date.fromisoformat(asked["on"]))
                return "text/html; charset=utf-8", card_html(card, linked=True).encode()
            bodies = {"/base": trail.base, "/ground": trail.ground, "/favicon.ico": b"-"}
            return ("application/octet-stream", bodies[path]) if path in bodies else None

        def log_message(self, *_: object) -> None:
            """Say nothing."""

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}"
    finally:
        server.shutdown()
        server.server_close()
        thread.join()
