"""Boxes, visits, paths, places and zones from files."""

from __future__ import annotations

from server.web.feature import Feature, Link

FEATURE = Feature(
    "importing",
    routers=("removal_page", "page"),
    commands={
        "add": "add boxes, visits, paths, places, zones or a background from a file",
        "remove": "remove boxes without visits, paths, places, zones or the background",
        "take-back": "withdraw all visits of an import, or list the imports",
    },
    links=(Link("Import", "/import"),),
)
