"""Boxes, visits, paths, places and zones from files."""

from __future__ import annotations

from server.web.feature import Feature

FEATURE = Feature(
    "importing",
    commands={"add": "add boxes, visits, paths, places or zones from a file"},
)
