"""Boxes, visits, paths, places and zones from files."""

from __future__ import annotations

from server.web.feature import Feature, Link

FEATURE = Feature(
    "importing",
    routers=("page",),
    commands={
        "add": "add boxes, visits, paths, places or zones from a file",
        "take-back": "withdraw all visits of an import, or list the imports",
    },
    links=(Link("Import", "/import"),),
)
