"""The app: a trail and its settings in, a server out."""

from __future__ import annotations

import hashlib
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from http import HTTPStatus
from importlib.metadata import version
from pathlib import Path
from typing import Any

from anyio import to_thread
from fastapi import FastAPI
from fastapi.staticfiles import StaticFiles
from starlette.types import ASGIApp, Receive, Scope, Send

from layers.maps.page import ASSETS
from server.api import boxes as api_boxes
from server.api import nests as api_nests
from server.api import places as api_places
from server.api import visits as api_visits
from server.clock import Clock
from server.guard import Guard, SecurityHeaders
from server.hot import HotAnswers
from server.live import LiveTrail
from server.pages import boxes as page_boxes
from server.pages import map_page
from server.pages import visit as page_visit
from server.problems import PROBLEM_TYPE, LastResort, add_error_answers
from server.settings import ServerSettings, from_environment

JSON = "application/json"
STATIC = Path(__file__).parent / "static"


class Boxround(FastAPI):
    """FastAPI with our layers in front of all of its own, so that a kept answer costs little."""

    front: ASGIApp

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        await self.front(scope, receive, send)

    async def behind(self, scope: Scope, receive: Receive, send: Send) -> None:
        """The app without the layers in front."""
        await super().__call__(scope, receive, send)

    def openapi(self) -> dict[str, Any]:
        """The OpenAPI document; errors carry the media type that they are sent with."""
        document = super().openapi()
        for calls in document["paths"].values():
            for call in calls.values():
                for status, answer in call["responses"].items():
                    if int(status) >= HTTPStatus.BAD_REQUEST and JSON in answer["content"]:
                        answer["content"][PROBLEM_TYPE] = answer["content"].pop(JSON)
        return document


def create_app(settings: ServerSettings) -> FastAPI:
    """A server for one trail; the file is opened when it starts, not before."""
    live = LiveTrail(settings.trail, clock=Clock(settings.on), busy_s=settings.busy_s)

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        await to_thread.run_sync(live.open)
        try:
            yield
        finally:
            await to_thread.run_sync(live.close)

    app = Boxround(
        title="Boxround",
        version=version("boxround"),
        summary="A trail of nest boxes: its boxes, visits and nests.",
        lifespan=lifespan,
        # The pages that show the OpenAPI document load their scripts from elsewhere.
        docs_url=None,
        redoc_url=None,
    )
    app.state.live = live
    app.state.settings = settings
    app.state.edition = _edition(settings)
    add_error_answers(app)
    # An id may hold a slash, so a box's page takes every address that its form does not.
    for room in (api_boxes, api_nests, api_visits, api_places, map_page, page_visit, page_boxes):
        app.include_router(room.router)
    app.mount(map_page.ASSETS_URL, StaticFiles(directory=ASSETS), name="map assets")
    app.mount("/static", StaticFiles(directory=STATIC), name="static")
    app.add_middleware(LastResort)
    app.front = Guard(
        HotAnswers(SecurityHeaders(app.behind), changed=live.stale),
        hosts=settings.hosts,
        public_origin=settings.public_origin,
    )
    return app


def app_from_environment() -> FastAPI:
    """The app of a worker process, by the settings its parent left for it."""
    return create_app(from_environment())


def _edition(settings: ServerSettings) -> str:
    """What tells pages of this version and these settings from others, for their `ETag`."""
    told = f"{version('boxround')} {settings.model_dump_json()}"
    return hashlib.blake2s(told.encode(), digest_size=4).hexdigest()
