"""Boxes and their nests: what each is on a day, and all about one."""

from __future__ import annotations

from server.web.feature import Feature, Link

FEATURE = Feature(
    "boxes",
    routers=("api",),
    mounts=("page",),
    commands={
        "nests": "list nesting attempts, their fates and why",
        "status": "show what every box is on a day",
    },
    links=(Link("List", "/list", prominent=True, roomy=True),),
)
