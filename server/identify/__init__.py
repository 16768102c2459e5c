"""Identify the species from what a nest looks like."""

from __future__ import annotations

from server.web.feature import Feature

FEATURE = Feature("identify", routers=("api",))
