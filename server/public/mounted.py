"""The public pages inside the team's server, at `/open`."""

from __future__ import annotations

from fastapi import FastAPI
from starlette.types import ASGIApp

from server.live.public_views import PublicViews
from server.ogc.public import WithFeatures
from server.public.app import OpenApp

ADDRESS = "/open"


def mount(app: FastAPI) -> None:
    """Serve the public pages, and their feature service if the app has one."""
    settings = app.state.settings
    views = app.state.public_views = PublicViews(app.state.live)
    address = settings.public_origin and f"{settings.public_origin}{ADDRESS}/"
    pages: ASGIApp = OpenApp(views, address=address)
    if "ogc" in app.state.features:
        pages = WithFeatures(pages, views, public_url=settings.public_url)
    app.mount(ADDRESS, pages, name="open")
