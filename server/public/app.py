"""The public app: reads a view, sends files made from it, and can do nothing else.

It is given something that makes a `PublicView`, never a trail: no request can reach
what the view does not hold. It takes no parameters, reads no cookie and changes nothing.
"""

from __future__ import annotations

import hashlib
import threading
from collections.abc import Callable, Mapping

from anyio import to_thread
from starlette.responses import PlainTextResponse, Response
from starlette.types import Receive, Scope, Send

from layers.errors import EnvironmentFault
from layers.publishing import PublicView
from server.public.site import media_type, site

_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
    "base-uri 'none'; form-action 'none'; frame-ancestors {}"
)
_HEADERS = {
    "Cache-Control": "no-cache",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Permissions-Policy": "geolocation=(), camera=(), microphone=()",
    # Public data may be read, and the map shown, by any page.
    "Access-Control-Allow-Origin": "*",
    "Cross-Origin-Resource-Policy": "cross-origin",
}
EMBED = "embed.html"
NICKNAMES: Mapping[str, str] = {"": "index.html", "embed": EMBED}


class OpenApp:
    """An ASGI app of the public files.

    Parameters
    ----------
    views
        Gives the view to show now; called for every request, in a thread.
    address
        Where the files are found, with a slash at its end; None = not known.
    """

    def __init__(self, views: Callable[[], PublicView], *, address: str | None = None) -> None:
        self._views = views
        self._address = address
        self._making = threading.Lock()
        self._view: PublicView | None = None
        self._site: dict[str, Callable[[], bytes]] = {}
        self._made: dict[str, Response] = {}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            return
        if scope["method"] not in ("GET", "HEAD"):
            answer: Response = PlainTextResponse(
                "These pages are only read.", 405, {**_HEADERS, "Allow": "GET, HEAD"}
            )
        else:
            name = scope["path"].removeprefix(scope.get("root_path", "")).removeprefix("/")
            name = NICKNAMES.get(name, name)
            if name == "index.html" and scope.get("query_string") == b"embed":
                name = EMBED
            answer = await to_thread.run_sync(self._answer, name)
        await answer(scope, receive, send)

    def _answer(self, name: str) -> Response:
        try:
            view = self._views()
        except EnvironmentFault:
            return PlainTextResponse("The trail cannot be read now.", 503, _HEADERS)
        with self._making:
            if view is not self._view:
                self._view, self._site, self._made = view, site(view, address=self._address), {}
            if name not in self._site:
                return PlainTextResponse("There is nothing here.", 404, _HEADERS)
            if name not in self._made:
                self._made[name] = _file(name, self._site[name]())
            return self._made[name]


def _file(name: str, body: bytes) -> Response:
    # A hash of the body: the trail's version rises also when a hidden box is visited.
    tag = hashlib.blake2s(body, digest_size=8).hexdigest()
    policy = _POLICY.format("*" if name == EMBED else "'none'")
    headers = {**_HEADERS, "ETag": f'W/"{tag}"', "Content-Security-Policy": policy}
    return Response(body, media_type=media_type(name), headers=headers)
