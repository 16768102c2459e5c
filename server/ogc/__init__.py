"""OGC API - Features for the team and for the public."""

from __future__ import annotations

from server.web.feature import Feature, Link

FEATURE = Feature("ogc", mounts=("mounted",), links=(Link("Connect a GIS", "/ogc?f=html"),))
