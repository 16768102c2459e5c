"""The field page: one day of the trail on a phone, with or without a signal."""

from __future__ import annotations

from server.web.feature import Feature, Link

FEATURE = Feature(
    "field",
    routers=("api", "page"),
    links=(Link("In the woods", "/field", prominent=True),),
)
