"""The week: which boxes on which day by whom."""

from __future__ import annotations

from server.web.feature import Feature, Link

FEATURE = Feature(
    "week",
    routers=("api", "page"),
    commands={"week": "share the due boxes of a week out among walkers and days"},
    links=(Link("Week", "/week"),),
)
