"""The public pages: made from a `PublicView` and from nothing else."""

from __future__ import annotations

from server.web.feature import Feature, Link

FEATURE = Feature(
    "public",
    mounts=("mounted",),
    commands={"publish": "write the public pages for any web host"},
    links=(Link("Public pages", "/open/"),),
)
