"""Boxes, visits, paths, places and zones from files."""

from __future__ import annotations

from server.web.feature import Feature, Link

FEATURE = Feature(
    "importing",
    routers=("removal_page", "page"),
    commands={
        "add": "add boxes, visits, paths, places or zones from a file",
        "remove": "remove boxes without visits, paths, places or zones added by mistake",
        "take-back": "withdraw all visits of an import, or list the imports",
    },
    links=(Link("Import", "/import"),),
)
