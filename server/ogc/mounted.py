"""The team's feature service, at `/ogc`."""

from __future__ import annotations

from fastapi import FastAPI

from server.ogc.router import features_router
from server.ogc.team import team_source
from server.web.authentication.roles import ACCESS


def mount(app: FastAPI) -> None:
    """Serve the trail's collections to the team."""
    public_url = app.state.settings.public_url
    app.include_router(
        features_router(team_source, prefix="/ogc", public_url=public_url, security=ACCESS)
    )
