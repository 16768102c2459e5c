"""The public's feature service: made from a `PublicView`, and given nothing besides."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from http import HTTPStatus

from fastapi import FastAPI, Request
from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from layers.errors import EnvironmentFault, Fault
from layers.publishing import PublicView
from layers.publishing.tables import PublicSource
from layers.trail.exporting.collection import Source
from server.ogc.router import features_router
from server.web.problems import PROBLEM_TYPE
from server.web.templating import static_file

PREFIX = "/ogc"

_LOOK = (("web", "site.css"), ("ogc", "ogc.css"))
_HEADERS = {
    b"x-content-type-options": b"nosniff",
    b"referrer-policy": b"no-referrer",
    # Public data may be read by any page.
    b"access-control-allow-origin": b"*",
    b"cross-origin-resource-policy": b"cross-origin",
    b"content-security-policy": b"default-src 'none'; style-src 'self'; base-uri 'none'; "
    b"form-action 'none'; frame-ancestors 'none'",
}


class WithFeatures:
    """An app of public pages with the feature service at `/ogc` beside it.

    Parameters
    ----------
    app
        Answers everything else.
    views
        Gives the view to show now; called for every request, in a thread.
    public_url
        Scheme and host by which people reach it; None = as in the request.
    """

    def __init__(
        self, app: ASGIApp, views: Callable[[], PublicView], *, public_url: str | None = None
    ) -> None:
        self._app = app
        self._features = _features(views, public_url)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        path = scope.get("path", "").removeprefix(scope.get("root_path", ""))
        if scope["type"] != "http" or (path != PREFIX and not path.startswith(f"{PREFIX}/")):
            await self._app(scope, receive, send)
            return
        head_only = scope["method"] == "HEAD"

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                message["headers"] = [*message["headers"], *_HEADERS.items()]
            elif head_only:
                message = {**message, "body": b""}
            await send(message)

        # FastAPI's routes know GET alone.
        query = {**scope, "method": "GET"} if head_only else scope
        await self._features(query, receive, with_headers)


def _features(views: Callable[[], PublicView], public_url: str | None) -> FastAPI:
    app = FastAPI(docs_url=None, redoc_url=None, openapi_url=None)
    last: list[PublicSource] = []

    def source(_: Request) -> Source:
        view = views()
        if not last or last[0].view is not view:
            last[:] = [PublicSource(view)]
        return last[0]

    look = b"".join(static_file(*name).read_bytes() for name in _LOOK)

    @app.get(f"{PREFIX}/look.css")
    def style() -> Response:
        return Response(look, media_type="text/css")

    app.include_router(
        features_router(
            source, prefix=PREFIX, base="ogc_public.html", public_url=public_url, refused=_refused
        )
    )
    app.add_exception_handler(HTTPException, _http_error)
    app.add_exception_handler(EnvironmentFault, _unreadable)
    return app


def _refused(scope: Scope, status: int, detail: str, *, faults: Sequence[Fault] = ()) -> Response:
    """An error as RFC 9457 has it; the faults stand in `detail` already."""
    record = {
        "type": "about:blank",
        "title": HTTPStatus(status).phrase,
        "status": status,
        "detail": detail,
    }
    return JSONResponse(record, status, {"Cache-Control": "no-store"}, PROBLEM_TYPE)


async def _http_error(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    return _refused(request.scope, error.status_code, str(error.detail))


async def _unreadable(request: Request, _: Exception) -> Response:
    return _refused(request.scope, 503, "The trail cannot be read now")
