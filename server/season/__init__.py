"""The season in numbers."""

from __future__ import annotations

from server.web.feature import Feature, Link

FEATURE = Feature(
    "season",
    routers=("api", "page"),
    commands={"season": "show how the boxes did in a season, and write the report"},
    links=(Link("Season", "/season", prominent=True, roomy=True),),
)
