"""Rounds: planned, walked, printed."""

from __future__ import annotations

from server.web.feature import Feature, Link

FEATURE = Feature(
    "rounds",
    routers=("api", "page"),
    commands={
        "walk": "plan the round that visits boxes with the least walking",
        "length": "show the length and climb of the paths",
    },
    links=(Link("Round", "/round", prominent=True),),
)
