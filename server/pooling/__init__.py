"""Many trails in one archive for research."""

from __future__ import annotations

from server.web.feature import Feature

FEATURE = Feature(
    "pooling", commands={"pool": "put trails into an archive for research, or take one back"}
)
