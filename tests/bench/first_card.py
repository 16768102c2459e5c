"""From a click on the map's link to the first box card, in a real browser."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

from playwright.sync_api import Browser, Error, sync_playwright

from layers.maps.bundle import SCRIPTS
from layers.maps.fragments import card_html
from layers.maps.page import ASSETS, map_page
from layers.maps.payload import base_payload, ground_payload, season_payload
from layers.nesting.card import box_card
from layers.nesting.dating import date_attempts
from layers.nesting.guide import standard_guide
from layers.nesting.histories import read_histories
from layers.nesting.timeline import timeline
from layers.trail.schema import TABLES
from tests.bench.clock import heading, line, say_time
from tests.bench.pages import DAY, SETTINGS, SOURCES, loop_page
from tests.conftest import CHROMIUM
from tests.many_boxes import many_boxes
from tests.maps.made import frame

PATIENCE_S = 120
LINK = b'<!DOCTYPE html><html lang="en"><title>link</title><a href="/map">Map</a></html>'


@contextmanager
def served(answers: dict[str, tuple[str, bytes]]) -> Iterator[str]:
    class Handler(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def do_GET(self) -> None:
            kind, body = answers.get(self.path, ("text/plain", b""))
            self.send_response(200)
            self.send_header("Content-Type", kind)
            self.send_header("Content-Length", str(len(body)))
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, *_: object) -> None:
            """Say nothing."""

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    try:
        yield f"http://127.0.0.1:{server.server_port}"
    finally:
        server.shutdown()
        server.server_close()


def our_answers(n_boxes: int) -> dict[str, tuple[str, bytes]]:
    boxes, visits = many_boxes(n_boxes, seed=1)
    histories = read_histories(visits, standard_guide(), season_starts="01-01")
    table = timeline(histories, date_attempts(histories), season=DAY.year, on=DAY)
    kinds = {"js": "text/javascript", "css": "text/css"}
    answers: dict[str, tuple[str, bytes]] = {
        f"{url}/{path.relative_to(folder)}": (kinds[path.suffix[1:]], path.read_bytes())
        for url, folder in (("/static/map", ASSETS), ("/static/js", SCRIPTS))
        for path in folder.rglob("*.*")
        if path.suffix[1:] in kinds
    }
    row: dict[str, Any] = boxes.iloc[0].to_dict() | {"lon": 0.0, "lat": 0.0}
    row["box"] = boxes["box"][0]
    own = [
        dict.fromkeys(TABLES["visits"].columns) | {"seen_on": "2026-05-01"}
        for _ in histories.visits_of(row["box"])
    ]
    card = box_card(histories, row, own, settings=SETTINGS, on=DAY)
    ground = ground_payload(
        paths=frame("paths", []), places=frame("places", []), zones=frame("zones", [])
    )
    data = "application/octet-stream"
    return answers | {
        "/": ("text/html", LINK),
        "/map": (
            "text/html",
            map_page(
                title="Many", sources=SOURCES, assets_url="/static/map", scripts_url="/static/js"
            ).encode(),
        ),
        "/base": (data, base_payload(boxes, histories, settings=SETTINGS, on=DAY)),
        f"/season/{DAY.year}": (data, season_payload(table, season=DAY.year, boxes=n_boxes)),
        "/ground": ("application/json", ground),
        f"/card/{row['box']}": ("text/html", card_html(card, linked=True).encode()),
    }


def first_card_s(browser: Browser, answers: dict[str, tuple[str, bytes]], *, ours: bool) -> float:
    """Seconds from the click to the first card; infinite where the browser gives up."""
    with served(answers) as address:
        page = browser.new_page()
        page.set_default_timeout(PATIENCE_S * 1000)
        page.goto(address)
        begun = time.perf_counter()
        try:
            page.click("a")
            if ours:
                page.wait_for_function("() => document.querySelectorAll('#legend li').length > 0")
                page.fill("#find-box", "B000000")
                page.press("#find-box", "Enter")
                page.wait_for_selector("#card h2")
            else:
                page.wait_for_selector("path.leaflet-interactive", state="attached")
                page.dispatch_event("path.leaflet-interactive", "click")
                page.wait_for_selector(".leaflet-popup")
            return time.perf_counter() - begun
        except Error:
            return float("inf")
        finally:
            page.close()


def main() -> None:
    heading("From click to the first box card, in Chromium")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=CHROMIUM, args=["--no-sandbox", "--disable-background-networking"]
        )
        times = {}
        for n_boxes in (500, 10_000, 100_000):
            answers = our_answers(n_boxes)
            times[n_boxes] = min(first_card_s(browser, answers, ours=True) for _ in range(3))
            line(f"{n_boxes:,} boxes", times[n_boxes])
        print(f"  100,000 boxes take {times[100_000] / times[500]:.1f} times as long as 500")
        for n_boxes in (10_000, 100_000):
            boxes, visits = many_boxes(n_boxes, seed=1)
            histories = read_histories(visits, standard_guide(), season_starts="01-01")
            begun = time.perf_counter()
            page = _without_strangers(loop_page(boxes, histories))
            made_s = time.perf_counter() - begun
            shown_s = first_card_s(browser, _loop_answers(page), ours=False)
            whole_s = made_s + min(shown_s, PATIENCE_S)
            said = say_time(shown_s) if shown_s < PATIENCE_S else f"not within {PATIENCE_S} s"
            print(
                f"  one Folium marker a box, {n_boxes:,} boxes: made in {say_time(made_s)}, "
                f"first popup {said}: at least {whole_s / times[n_boxes]:,.0f} times as long"
            )
        browser.close()


def plain_answers(n_boxes: int) -> dict[str, tuple[str, bytes]]:
    """What a server of the plain Folium map answers."""
    boxes, visits = many_boxes(n_boxes, seed=1)
    histories = read_histories(visits, standard_guide(), season_starts="01-01")
    return _loop_answers(_without_strangers(loop_page(boxes, histories)))


def _without_strangers(page: str) -> str:
    """The loop's page with what it needs from our server, so that no network slows it."""
    head, _, rest = page.partition("</head>")
    kept = "".join(
        text for text in head.splitlines(keepends=True) if "://" not in text or "http-equiv" in text
    )
    needed = (
        '<script src="/leaflet.js"></script><link rel="stylesheet" href="/leaflet.css">'
        "<script>function $(html) { const box = document.createElement('template');"
        " box.innerHTML = html; return [box.content.firstElementChild]; }</script>"
    )
    return kept + needed + "</head>" + rest


def _loop_answers(page: str) -> dict[str, tuple[str, bytes]]:
    leaflet = ASSETS / "leaflet"
    return {
        "/": ("text/html", LINK),
        "/map": ("text/html", page.encode()),
        "/leaflet.js": ("text/javascript", (leaflet / "leaflet.js").read_bytes()),
        "/leaflet.css": ("text/css", (leaflet / "leaflet.css").read_bytes()),
    }


if __name__ == "__main__":
    main()
