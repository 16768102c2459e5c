"""The map in the browser and as one file."""

from __future__ import annotations

from server.web.feature import Feature, Link

FEATURE = Feature(
    "maps",
    routers=("page",),
    commands={"map": "write the map as one file that opens without a network"},
    links=(Link("Map", "/", prominent=True),),
)
