"""The boxes that need a visit."""

from __future__ import annotations

from server.web.feature import Feature, Link

FEATURE = Feature(
    "due",
    routers=("api", "page"),
    commands={"due": "list the boxes that need a visit, why, and how to look"},
    links=(Link("Due", "/due", prominent=True),),
)
