"""A folder of trails on one host: each at `/t/NAME/`, with its own team, rules and public pages.

`NAME` is the file's name without its ending. A prefix, not a host name: one name and one
certificate do for all, and it works on this machine alone and in a local network. All that a
trail is comes from its file and the side file beside it, so it moves to another machine by
copying these two.

To an outsider a trail that is there looks like one that is not, also where its file is broken: what
they may see of it comes from an empty trail without a team.
"""

from __future__ import annotations

import asyncio
import logging
import tempfile
from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager
from pathlib import Path

from anyio import CapacityLimiter, to_thread
from fastapi import FastAPI
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp, Receive, Scope, Send

from layers.errors import BoxroundError, EnvironmentFault
from layers.trail.public_rules import PublicRules
from layers.trail.settings import Settings
from layers.trail.store import Trail
from server.app import OPEN, create_app
from server.live.clock import Clock
from server.live.folder import ENDING, PREFIX, TRAIL_NAME, trails_in
from server.live.region_views import RegionViews
from server.public.port import app_of_views
from server.serving.open_trails import MAX_OPEN, OpenTrail, OpenTrails
from server.serving.start_page import StartPage
from server.settings import MAX_PLANNING, ServerSettings, from_environment
from server.web.authentication.cookies import START
from server.web.authentication.middleware import Authentication, is_public
from server.web.authentication.team import Team
from server.web.base import call_below
from server.web.headers import SecurityHeaders, refuse
from server.web.host_check import HostCheck
from server.web.problems import STATUS, LastResort, problem_answer
from server.web.response_cache import ResponseCache
from server.web.templating import static_folders

_log = logging.getLogger("boxround.server")


class FolderApp:
    """The server of a folder: takes each request to the app of its trail."""

    def __init__(self, settings: ServerSettings, *, most: int = MAX_OPEN) -> None:
        self._settings = settings
        self._planners = CapacityLimiter(MAX_PLANNING)
        self._most = most
        self.trails = OpenTrails(self._make, most=most)
        self._start = StartPage(settings, names=self._names, call=self._call, title=self._title)
        # The host is checked again by each trail's app; here it is for what belongs to none.
        self._own = HostCheck(
            ResponseCache(SecurityHeaders(LastResort(self._pages())), changed=lambda: False),
            hosts=settings.hosts,
            public_origin=settings.public_origin,
        )
        self._region = RegionViews(settings.trail, clock=Clock(settings.on))
        self._open = app_of_views(self._region, settings, changed=self._region.stale)
        self._empty: asyncio.Task[FastAPI] | None = None
        self._made = ""

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            await self._lifespan(scope, receive, send)
            return
        path: str = scope["path"]
        end = path.find("/", len(PREFIX)) if path.startswith(PREFIX) else -1
        if end < 0:
            if path.startswith(f"{OPEN}/"):
                await self._open({**scope, "root_path": OPEN}, receive, send)
            else:
                await self._own(scope, receive, send)
            return
        scope["root_path"] = path[:end]
        await self._call(path[len(PREFIX) : end], scope, receive, send)

    async def _call(self, name: str, scope: Scope, receive: Receive, send: Send) -> None:
        """Have a trail answer; `scope` has its base."""
        one = self.trails.at_once(name)
        if one is not None:
            await self._answer(one, scope, receive, send)
        elif TRAIL_NAME.fullmatch(name) is None or not self._path(name).is_file():
            await self._as_of_none(scope, receive, send)
        else:
            await self._open_and_answer(name, scope, receive, send)

    async def _answer(self, one: OpenTrail, scope: Scope, receive: Receive, send: Send) -> None:
        try:
            assert one.app is not None
            await one.app(scope, receive, send)
        finally:
            self.trails.done(one)

    async def _open_and_answer(self, name: str, scope: Scope, receive: Receive, send: Send) -> None:
        """Open a trail for those whom its own app would let in, and report to them if it fails.

        Others get the answer that the app would give, so they can close no other trail.
        """
        path, busy_s = self._path(name), self._settings.busy_s
        team = Team(path, alone=self._settings.alone, busy_s=busy_s)

        async def admitted(within: Scope, receive: Receive, send: Send) -> None:
            try:
                one = await self.trails.opened(name)
            except BoxroundError as error:
                _log.warning("%s: %s", name, error)
                if is_public(within["path"]):
                    await self._as_of_none(scope, receive, send)
                else:
                    answer = problem_answer(within, STATUS[EnvironmentFault], str(error))
                    await refuse(answer, within, receive, send)
                return
            await self._answer(one, scope, receive, send)

        gate = Authentication(admitted, team=team, public_https=self._settings.public_https)
        origin = self._settings.public_origin
        front = HostCheck(gate, hosts=self._settings.hosts, public_origin=origin)
        try:
            await call_below(front, scope, receive, send)
        finally:
            team.close()

    def _names(self) -> Sequence[str]:
        return trails_in(self._settings.trail)[0]

    def _title(self, name: str) -> str:
        one = self.trails.at_once(name)
        if one is None or one.app is None:
            return name
        try:
            title: str = one.app.state.live.contents().settings.name
            return title
        finally:
            self.trails.done(one)

    def _path(self, name: str) -> Path:
        return self._settings.trail / f"{name}{ENDING}"

    def _make(self, name: str) -> FastAPI:
        of_trail = self._settings.model_copy(update={"trail": self._path(name)})
        app = create_app(of_trail, share=self._most)
        app.state.planners = self._planners
        return app

    async def _as_of_none(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer as a trail would of which the sender knows nothing."""
        if self._settings.alone:
            await self._own({**scope, "root_path": ""}, receive, send)
            return
        if self._empty is None:
            self._empty = asyncio.create_task(to_thread.run_sync(self._make_empty))
        app = await asyncio.shield(self._empty)
        await app(scope, receive, send)

    def _make_empty(self) -> FastAPI:
        path = Path(self._made) / f"empty{ENDING}"
        closed = Settings(name="Empty", timezone="UTC", public_rules=PublicRules(open="no"))
        Trail.create(path, closed).close()
        app = create_app(self._settings.model_copy(update={"trail": path}), share=self._most)
        # Not by its lifespan, which expects a keeper.
        app.state.live.open()
        return app

    @asynccontextmanager
    async def _running(self, _: Starlette) -> AsyncIterator[None]:
        with tempfile.TemporaryDirectory(prefix="boxround-") as self._made:
            try:
                yield
            finally:
                await self.trails.close()
                if self._empty is not None:
                    await to_thread.run_sync((await self._empty).state.live.close)

    async def _lifespan(self, scope: Scope, receive: Receive, send: Send) -> None:
        await Starlette(lifespan=self._running)(scope, receive, send)

    def _pages(self) -> Starlette:
        pages = Starlette(
            routes=[
                Route("/", lambda _: RedirectResponse(START)),
                Route(START, self._start.answer),
                Route(OPEN, _with_slash),
                Route(f"{PREFIX}{{name}}", _with_slash),
                *(
                    Mount(f"/static/{name}", StaticFiles(directory=folder))
                    for name, folder in static_folders().items()
                ),
            ],
            exception_handlers={404: _nothing_here},
        )
        pages.router.redirect_slashes = False
        return pages


async def _with_slash(request: Request) -> Response:
    query = f"?{request.url.query}" if request.url.query else ""
    return RedirectResponse(f"{request.url.path}/{query}")


async def _nothing_here(request: Request, _: Exception) -> Response:
    return problem_answer(request.scope, 404, f"There is nothing at {request.url.path}")


def app_of(settings: ServerSettings) -> ASGIApp:
    """The app of a trail, or of a folder of trails."""
    return FolderApp(settings) if settings.trail.is_dir() else create_app(settings)


def app_from_environment() -> ASGIApp:
    """The app of a worker process, by the settings its parent left for it."""
    return app_of(from_environment())
