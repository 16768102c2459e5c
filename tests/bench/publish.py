"""The bytes of a published trail of 500 boxes, beside those of the team's one-file map."""

from __future__ import annotations

import gzip
from datetime import date

from layers.publishing.values import PublicView
from server.public.site import site
from tests.bench.clock import best_of, heading, line
from tests.publishing.planted import planted

BOXES = 500
ON = date(2026, 12, 1)
MOST_KB = 250
"""What a phone on a poor connection should have to load at most."""

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
