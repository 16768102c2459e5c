"""Recording visits, and their history."""

from __future__ import annotations

from server.web.feature import Feature

FEATURE = Feature("visits", routers=("api", "page", "history", "withdrawing"))
