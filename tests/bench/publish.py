"""The bytes of a published trail of 500 boxes, and how soon a neighbour can read its page."""

from __future__ import annotations

import gzip
from collections.abc import Mapping
from datetime import date
from mimetypes import guess_type
from statistics import median

from playwright.sync_api import Browser, sync_playwright

from layers.publishing.values import PublicView
from server.public.site import site
from tests.bench.clock import best_of, heading, line
from tests.bench.first_card import served
from tests.conftest import CHROMIUM
from tests.publishing.planted import planted

BOXES = 500
ON = date(2026, 12, 1)
MOST_KB = 250
"""What a phone on a poor connection should have to load at most."""

# A cheap phone far from a mast: a quarter of this machine's processor.
_SLOWER, _LATENCY_MS, _BYTES_A_S = 4, 150, 200_000
_LARGEST = """() => new Promise((found) => new PerformanceObserver((list) =>
    found(list.getEntries().at(-1).startTime)
).observe({ type: "largest-contentful-paint", buffered: true }))"""

# Loaded with the map's page; the rest only if somebody asks for it.
_WITH_THE_MAP = ("index.html", "open.css", "leaflet.css", "leaflet.js", "map.js", "icon.svg")


def main() -> None:
    heading(f"Public pages of {BOXES} boxes, two seasons")
    trail = planted(BOXES)
    everyone = trail.marked(["shown"] * BOXES)

    def view() -> PublicView:
        return trail.view(ON, boxes=everyone)

    files = {name: make() for name, make in site(view()).items()}
    packed = {name: len(gzip.compress(body, 6, mtime=0)) / 1000 for name, body in files.items()}
    with_the_map = sum(packed[name] for name in _WITH_THE_MAP)
    whole = sum(packed.values())
    made_s, _ = best_of(3, view)
    line("making the view", made_s)
    plain = sum(map(len, files.values())) / 1000
    for what, size_kb in (
        ("the map's page with all it loads, compressed", with_the_map),
        (f"every file of the site, compressed (most: {MOST_KB} kB)", whole),
        ("every file of the site, as it lies on disk", plain),
    ):
        print(f"  {what:<58} {size_kb:>7.0f} kB", flush=True)
    assert whole < MOST_KB, f"Expected less than {MOST_KB} kB, got {whole:.0f} kB"
    answers = {f"/{name}": (guess_type(name)[0] or "", body) for name, body in files.items()}
    bare = f"<!doctype html><title>x</title><p>{'A sentence. ' * 9}".encode()
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        ours_s, plain_s = (
            median(largest_paint_s(browser, answers | more, name) for _ in range(5))
            for name, more in (
                ("index.html", {}),
                ("bare.html", {"/bare.html": ("text/html", bare)}),
            )
        )
        browser.close()
    line("its largest paint on a slow phone (1 s wanted)", ours_s)
    line("that of a page of one sentence", plain_s)


def largest_paint_s(browser: Browser, answers: Mapping[str, tuple[str, bytes]], name: str) -> float:
    """Seconds to the Largest Contentful Paint (W3C) of one page, nothing of it kept."""
    context = browser.new_context(viewport={"width": 390, "height": 844})
    page = context.new_page()
    slow = context.new_cdp_session(page)
    slow.send("Network.enable")
    network = {"latency": _LATENCY_MS, "downloadThroughput": _BYTES_A_S}
    slow.send(
        "Network.emulateNetworkConditions",
        {"offline": False, "uploadThroughput": _BYTES_A_S, **network},
    )
    slow.send("Emulation.setCPUThrottlingRate", {"rate": _SLOWER})
    with served(dict(answers)) as address:
        page.goto(f"{address}/{name}", wait_until="networkidle")
        painted_ms: float = page.evaluate(_LARGEST)
    context.close()
    return painted_ms / 1000
