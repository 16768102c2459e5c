"""The app: a trail and its settings in, a server out."""

from __future__ import annotations

import hashlib
from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager
from functools import partial
from http import HTTPStatus
from importlib import import_module
from importlib.metadata import version
from typing import Any

from anyio import CapacityLimiter, to_thread
from fastapi import Depends, FastAPI
from fastapi.staticfiles import StaticFiles
from starlette.types import ASGIApp, Receive, Scope, Send

from server.features import FEATURES
from server.live.clock import Clock, utc_now
from server.live.log_folding import LogFolding
from server.live.trail import LiveTrail
from server.live.warming import start_warming
from server.settings import MAX_PLANNING, ServerSettings
from server.web.authentication.middleware import Authentication
from server.web.authentication.roles import ACCESS, changes_are_for_keepers
from server.web.authentication.team import Team, expect_keeper
from server.web.base import call_below, call_routes
from server.web.feature import Feature
from server.web.headers import SecurityHeaders
from server.web.host_check import HostCheck
from server.web.problems import PROBLEM_TYPE, LastResort, add_error_answers
from server.web.response_cache import ResponseCache
from server.web.templating import static_folders

FOR_READERS = (400, 401, 403, 421, 429, 503)
FOR_WRITERS = (*FOR_READERS, 408, 413)
"""Statuses that any call may answer with: layers in front, or a file that cannot be used now."""
WAITS_FOR_WARMING_S = 5.0
"""How long a server that ends waits for the first nests to be dated; the trail is read only."""
OPEN = "/open"
"""Where the public pages are; authentication lets anybody in there."""


class Boxround(FastAPI):
    """FastAPI with our layers in front of all of its own, so that a cached answer costs little."""

    front: ASGIApp

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope.get("root_path"):
            await call_below(self.front, scope, receive, send)
        else:
            await self.front(scope, receive, send)

    async def behind(self, scope: Scope, receive: Receive, send: Send) -> None:
        """The app without the layers in front."""
        if scope.get("root_path"):
            await call_routes(super().__call__, scope, receive, send)
        else:
            await super().__call__(scope, receive, send)

    def openapi(self) -> dict[str, Any]:
        """The OpenAPI document.

        Errors carry the media type that they are sent with, and each call those of the
        layers in front of it.
        """
        document = super().openapi()
        document["components"]["securitySchemes"] = ACCESS
        document["security"] = [{name: []} for name in ACCESS]
        for calls in document["paths"].values():
            for method, call in calls.items():
                in_front = FOR_READERS if method == "get" else FOR_WRITERS
                for status in in_front:
                    call["responses"].setdefault(str(status), _problem(status))
                for status, answer in call["responses"].items():
                    if int(status) >= HTTPStatus.BAD_REQUEST:
                        (only,) = answer["content"].values()
                        answer["content"] = {PROBLEM_TYPE: only}
        return document


def create_app(
    settings: ServerSettings, *, features: Sequence[Feature] = FEATURES, share: int = 1
) -> FastAPI:
    """A server for one trail; the file is opened when it starts, not before.

    Parameters
    ----------
    features
        What it offers: a feature left out has no address, and no page links to it.
    share
        Among how many apps of this process the room for cached answers is divided.
    """
    live = LiveTrail(settings.trail, clock=Clock(settings.on), busy_s=settings.busy_s)
    team = Team(settings.trail, alone=settings.alone, busy_s=settings.busy_s)

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        await to_thread.run_sync(live.open)
        if not settings.alone:
            await to_thread.run_sync(partial(expect_keeper, settings.trail, now=utc_now()))
        warming = start_warming(live)
        folding = LogFolding(live)
        folding.start()
        try:
            yield
        finally:
            await to_thread.run_sync(folding.stop)
            await to_thread.run_sync(warming.join, WAITS_FOR_WARMING_S)
            team.close()
            await to_thread.run_sync(live.close)

    app = Boxround(
        title="Boxround",
        version=version("boxround"),
        summary="A trail of nest boxes: its boxes, visits and nests.",
        lifespan=lifespan,
        dependencies=[Depends(changes_are_for_keepers)],
        # The pages that show the OpenAPI document load their scripts from elsewhere.
        docs_url=None,
        redoc_url=None,
    )
    app.state.live = live
    app.state.team = team
    app.state.settings = settings
    app.state.features = frozenset(feature.name for feature in features)
    app.state.links = tuple(link for feature in features for link in feature.links)
    app.state.planners = CapacityLimiter(MAX_PLANNING)
    app.state.edition = _edition(settings)
    add_error_answers(app)
    for feature in features:
        for module in feature.routers:
            app.include_router(import_module(feature.module(module)).router)
    for feature in features:
        for module in feature.mounts:
            import_module(feature.module(module)).mount(app)
    for name, folder in static_folders().items():
        app.mount(f"/static/{name}", StaticFiles(directory=folder), name=f"static {name}")
    app.add_middleware(LastResort)
    cached = ResponseCache(
        SecurityHeaders(app.behind), changed=live.stale, open_below=f"{OPEN}/", share=share
    )
    app.front = HostCheck(
        Authentication(cached, team=team, public_https=settings.public_https),
        hosts=settings.hosts,
        public_origin=settings.public_origin,
    )
    return app


def _problem(status: int) -> dict[str, Any]:
    schema = {"$ref": "#/components/schemas/Problem"}
    return {"description": HTTPStatus(status).phrase, "content": {PROBLEM_TYPE: {"schema": schema}}}


def _edition(settings: ServerSettings) -> str:
    """A short text that differs between versions and settings, for the `ETag` of pages."""
    state = f"{version('boxround')} {settings.model_dump_json()}"
    return hashlib.blake2s(state.encode(), digest_size=4).hexdigest()
