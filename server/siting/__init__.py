"""Where a new box could stand."""

from __future__ import annotations

from server.web.feature import Feature, Link

FEATURE = Feature(
    "siting",
    routers=("api", "page"),
    commands={"site": "judge a place for a new box, or list suitable spots along the paths"},
    links=(Link("Site a new box", "/site"),),
)
