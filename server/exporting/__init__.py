"""The trail as files for others."""

from __future__ import annotations

from server.web.feature import Feature

FEATURE = Feature(
    "exporting", commands={"export": "write the trail as a file, for the public or in full"}
)
