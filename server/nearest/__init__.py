"""The boxes nearest to a place."""

from __future__ import annotations

from server.web.feature import Feature

FEATURE = Feature(
    "nearest", routers=("api",), commands={"near": "find the boxes nearest to a place"}
)
