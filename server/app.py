"""The app: a trail and its settings in, a server out."""

from __future__ import annotations

import hashlib
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from functools import partial
from http import HTTPStatus
from importlib.metadata import version
from typing import Any

from anyio import CapacityLimiter, to_thread
from fastapi import Depends, FastAPI
from fastapi.staticfiles import StaticFiles
from starlette.types import ASGIApp, Receive, Scope, Send

from layers.maps.page import ASSETS
from server.answers.headers import SecurityHeaders
from server.answers.problems import PROBLEM_TYPE, LastResort, add_error_answers
from server.answers.templating import STATIC
from server.api import boxes as api_boxes
from server.api import due as api_due
from server.api import key as api_key
from server.api import nests as api_nests
from server.api import places as api_places
from server.api import round as api_round
from server.api import season as api_season
from server.api import siting as api_siting
from server.api import visits as api_visits
from server.api import winter as api_winter
from server.clock import Clock, utc_now
from server.front.guard import Guard
from server.front.hot import HotAnswers
from server.live.public_views import PublicViews
from server.live.trail import LiveTrail
from server.live.warming import start_warming
from server.ogc.public import WithFeatures
from server.ogc.router import ACCESS, features_router
from server.ogc.team import team_source
from server.open.app import OpenApp
from server.pages import boxes as page_boxes
from server.pages import due as page_due
from server.pages import map_page
from server.pages import people as page_people
from server.pages import round as page_round
from server.pages import season as page_season
from server.pages import sign_in as page_sign_in
from server.pages import siting as page_siting
from server.pages import visit as page_visit
from server.pages import visit_history as page_visit_history
from server.pages import winter as page_winter
from server.people.gate import Gate
from server.people.roles import changes_are_for_keepers
from server.people.team import Team, expect_keeper
from server.settings import ServerSettings, from_environment

FOR_READERS = (400, 401, 403, 421, 429)
FOR_WRITERS = (*FOR_READERS, 408, 413)
"""Statuses that the layers in front of a call may answer with."""
OPEN = "/open"
"""Where the public pages are; the gate lets anybody in there."""

# An id may hold a slash, so a box's page takes every address that its form does not:
# it stands last.
ROOMS = (
    api_boxes,
    api_nests,
    api_visits,
    api_due,
    api_key,
    api_places,
    api_round,
    map_page,
    page_due,
    page_visit,
    page_round,
    api_winter,
    page_winter,
    api_season,
    page_season,
    api_siting,
    page_siting,
    page_sign_in,
    page_people,
    page_visit_history,
    page_boxes,
)


class Boxround(FastAPI):
    """FastAPI with our layers in front of all of its own, so that a kept answer costs little."""

    front: ASGIApp

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        await self.front(scope, receive, send)

    async def behind(self, scope: Scope, receive: Receive, send: Send) -> None:
        """The app without the layers in front."""
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
                        (told,) = answer["content"].values()
                        answer["content"] = {PROBLEM_TYPE: told}
        return document


def create_app(settings: ServerSettings) -> FastAPI:
    """A server for one trail; the file is opened when it starts, not before."""
    live = LiveTrail(settings.trail, clock=Clock(settings.on), busy_s=settings.busy_s)
    team = Team(settings.trail, alone=settings.alone, busy_s=settings.busy_s)

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        await to_thread.run_sync(live.open)
        if not settings.alone:
            await to_thread.run_sync(partial(expect_keeper, settings.trail, now=utc_now()))
        warming = start_warming(live)
        try:
            yield
        finally:
            await to_thread.run_sync(warming.join)
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
    app.state.public_views = PublicViews(live)
    app.state.team = team
    app.state.settings = settings
    app.state.planners = CapacityLimiter(api_round.MOST_PLANNING)
    app.state.edition = _edition(settings)
    add_error_answers(app)
    for room in ROOMS:
        app.include_router(room.router)
    app.include_router(
        features_router(team_source, prefix="/ogc", public_url=settings.public_url, security=ACCESS)
    )
    app.mount(map_page.ASSETS_URL, StaticFiles(directory=ASSETS), name="map assets")
    app.mount("/static", StaticFiles(directory=STATIC), name="static")
    address = settings.public_origin and f"{settings.public_origin}{OPEN}/"
    open_app = WithFeatures(
        OpenApp(app.state.public_views, address=address),
        app.state.public_views,
        public_url=settings.public_url,
    )
    app.mount(OPEN, open_app, name="open")
    app.add_middleware(LastResort)
    kept = HotAnswers(SecurityHeaders(app.behind), changed=live.stale, open_below=f"{OPEN}/")
    app.front = Guard(
        Gate(kept, team=team, public_https=settings.public_https),
        hosts=settings.hosts,
        public_origin=settings.public_origin,
    )
    return app


def app_from_environment() -> FastAPI:
    """The app of a worker process, by the settings its parent left for it."""
    return create_app(from_environment())


def _problem(status: int) -> dict[str, Any]:
    schema = {"$ref": "#/components/schemas/Problem"}
    return {
        "description": HTTPStatus(status).phrase,
        "content": {PROBLEM_TYPE: {"schema": schema}},
    }


def _edition(settings: ServerSettings) -> str:
    """What tells pages of this version and these settings from others, for their `ETag`."""
    told = f"{version('boxround')} {settings.model_dump_json()}"
    return hashlib.blake2s(told.encode(), digest_size=4).hexdigest()
