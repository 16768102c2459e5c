"""Setting up a server of one's own: a service, https in front of it, nightly backups."""

from __future__ import annotations

from server.web.feature import Feature

FEATURE = Feature(
    "setup",
    commands={"setup": "write what a server needs: service, https, nightly backups; or check it"},
)
