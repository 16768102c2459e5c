"""The species guide, and the help page."""

from __future__ import annotations

from server.web.feature import Feature, Link

FEATURE = Feature(
    "guide",
    routers=("page",),
    commands={"guide": "show species and where their numbers come from"},
    links=(Link("Help", "/help", prominent=True, roomy=True),),
)
