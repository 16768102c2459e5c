"""The public pages before they are published, for the keeper."""

from __future__ import annotations

from server.web.feature import Feature

FEATURE = Feature("preview", routers=("page",))
