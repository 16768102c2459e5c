"""Signing a device in with the code of a link, and out again.

A link is `/sign-in#CODE`. The part behind `#` never leaves the device with the
address: no log, proxy or `Referer` holds it. The page's script moves it into the form
and out of the address bar; without scripts it is pasted. Only the form, sent by POST,
uses the link up, so a preview of the link in a chat does not.
"""

from __future__ import annotations

from typing import Any

from anyio import to_thread
from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from layers.errors import NotKnown
from server.live.clock import utc_now
from server.web.authentication.author import the_team
from server.web.authentication.cookies import cookie_name, keep_signed_in, sign_out
from server.web.authentication.middleware import is_secure
from server.web.authentication.records import Key
from server.web.authentication.roles import ANYBODY, WALKER
from server.web.authentication.team import Team
from server.web.authentication.tokens import new_token
from server.web.templating import rendered

router = APIRouter(include_in_schema=False)

_MOST_FIELDS = 10
_LONGEST_LABEL = 80


@router.get("/sign-in")
def landing() -> Response:
    """The page that a link opens."""
    return _page()


@router.post("/sign-in", dependencies=[ANYBODY])
async def sign_in(request: Request) -> Response:
    """Sign this device in, or say why not."""
    form = await request.form(max_fields=_MOST_FIELDS, max_files=0)
    code, device, label = (str(form.get(name, "")) for name in ("code", "device", "label"))
    team = the_team(request)
    try:
        key, token = await to_thread.run_sync(_exchanged, team, code_of(code), device, label)
    except NotKnown:
        return _page(refused=True, device=device)
    secure = _secure(request)
    answer = RedirectResponse("/", 303, headers={"Cache-Control": "no-store"})
    keep_signed_in(
        answer,
        token,
        name=cookie_name(team.mark, secure=secure),
        secure=secure,
        expires=key.expires,
        now=utc_now(),
    )
    return answer


@router.post("/sign-out", dependencies=[WALKER])
def sign_this_device_out(request: Request) -> Response:
    """End this device's key, and have the browser delete it and the pages it stored."""
    team = the_team(request)
    key: Key | None = request.scope.get("key")
    if key is not None:
        with team.people() as people:
            people.forget_key(key.number, of=key.person)
    answer = RedirectResponse("/sign-in", 303)
    # Only what it read: visits that are not sent yet stay in its storage.
    answer.headers.update({"Cache-Control": "no-store", "Clear-Site-Data": '"cache"'})
    secure = _secure(request)
    sign_out(answer, name=cookie_name(team.mark, secure=secure), secure=secure)
    return answer


def code_of(text: str) -> str:
    """The code in what was pasted: the code alone, or the whole link."""
    _, _, fragment = text.strip().partition("#")
    return fragment or text.strip()


def _exchanged(team: Team, code: str, device: str, label: str) -> tuple[Key, str]:
    label = " ".join(label.split())[:_LONGEST_LABEL] or "a device"
    with team.people() as people:
        return people.exchange(code, device=device, label=label, now=utc_now())


def _secure(request: Request) -> bool:
    return is_secure(request.scope, public_https=request.app.state.settings.public_https)


def _page(*, refused: bool = False, device: str = "") -> HTMLResponse:
    values: dict[str, Any] = {"refused": refused, "device": device or new_token()}
    page = rendered("sign_in.html", **values)
    return HTMLResponse(page, 403 if refused else 200, {"Cache-Control": "no-store"})
