"""The people page: a person's own devices and keys, and for a keeper the whole team.

What is shown here is of one person, so it is never cached (`Cache-Control: no-store`).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any, Literal, TypeVar
from urllib.parse import urlsplit

from fastapi import APIRouter, Form, Request
from pydantic import BaseModel, ConfigDict
from starlette.responses import HTMLResponse, RedirectResponse, Response

from layers.errors import BadValue, CallerError
from server.live.clock import utc_now
from server.settings import LOOPBACK_NAMES
from server.web.authentication.author import the_team
from server.web.authentication.links import calendar_link, qr_picture, sign_in_link
from server.web.authentication.records import Held, Listed
from server.web.authentication.roles import KEEPER_ONLY, WALKER, NotAllowed, Person, Role, Who
from server.web.authentication.store import ACCESS_DAYS, People
from server.web.base import outside
from server.web.problems import STATUS
from server.web.responses import Live, rendered_for

router = APIRouter(include_in_schema=False)

T = TypeVar("T")


class _Sent(BaseModel):
    model_config = ConfigDict(extra="forbid")


class NewPerson(_Sent):
    name: str
    role: Role
    days: int = ACCESS_DAYS


class OnePerson(_Sent):
    name: str


class NewKey(_Sent):
    kind: Literal["program", "calendar"]
    label: str = ""


class OneKey(_Sent):
    key: int


@router.get("/people")
def people_page(request: Request, live: Live, by: Who) -> Response:
    """Who may use the trail, as far as it is theirs to know."""
    return _page(request, live.contents().settings, by)


@router.post("/people/invite", dependencies=[KEEPER_ONLY])
def invite(request: Request, live: Live, by: Who, sent: Annotated[NewPerson, Form()]) -> Response:
    """Show a new link, this once."""
    trail = live.contents().settings
    _expect_team(by)
    try:
        invited = _with_people(
            request,
            lambda people: people.invite(sent.name, role=sent.role, days=sent.days, now=utc_now()),
        )
    except BadValue as error:
        return _page(request, trail, by, refused=error)
    link = sign_in_link(invited.token, origin=_origin(request))
    return _page(
        request,
        trail,
        by,
        invited=invited,
        link=link,
        picture=qr_picture(link),
        here_only=urlsplit(link).hostname in LOOPBACK_NAMES,
    )


@router.post("/people/revoke", dependencies=[KEEPER_ONLY])
def revoke(request: Request, live: Live, by: Who, sent: Annotated[OnePerson, Form()]) -> Response:
    """End a person's access."""
    trail = live.contents().settings
    if sent.name.casefold() == by.name.casefold():
        refused = BadValue(
            "another person, as you cannot end your own access here", repr(sent.name)
        )
        return _page(request, trail, by, refused=refused)
    try:
        _with_people(request, lambda people: people.revoke(sent.name, now=utc_now()))
    except CallerError as error:
        return _page(request, trail, by, refused=error)
    return RedirectResponse("/people", 303, headers={"Cache-Control": "no-store"})


@router.post("/people/keys", dependencies=[WALKER])
def add_key(request: Request, live: Live, by: Who, sent: Annotated[NewKey, Form()]) -> Response:
    """Show a new key of one's own, this once."""
    trail = live.contents().settings
    _expect_team(by)
    label = " ".join(sent.label.split()) or sent.kind
    token = _with_people(
        request, lambda people: people.add_key(by.name, kind=sent.kind, label=label, now=utc_now())
    )
    shown = calendar_link(token, origin=_origin(request)) if sent.kind == "calendar" else token
    return _page(request, trail, by, key=shown, kind=sent.kind)


@router.post("/people/keys/forget", dependencies=[WALKER])
def forget_key(request: Request, by: Who, sent: Annotated[OneKey, Form()]) -> Response:
    """End one of one's own keys."""
    _expect_team(by)
    _with_people(request, lambda people: people.forget_key(sent.key, of=by))
    return RedirectResponse("/people", 303, headers={"Cache-Control": "no-store"})


def _expect_team(by: Person) -> None:
    if by.number is None:
        raise NotAllowed("No one was invited so far: boxround invite makes the first link")


def _with_people(request: Request, work: Callable[[People], T]) -> T:
    with the_team(request).people() as people:
        return work(people)


def _origin(request: Request) -> str:
    """How people reach this server; the guard has seen to the host's name."""
    public: str | None = request.app.state.settings.public_url
    return outside(public or f"{request.url.scheme}://{request.url.netloc}")


def _page(
    request: Request, trail: object, by: Person, *, refused: CallerError | None = None, **more: Any
) -> HTMLResponse:
    everyone: list[Listed] = []
    own: list[Held] = []
    if by.number is not None:
        with the_team(request).people() as people:
            everyone = people.everyone() if by.may(Role.KEEPER) else []
            own = people.keys_of(by)
    this = request.scope.get("key")
    values = {"invited": None, "key": None, "roles": tuple(Role), "days": ACCESS_DAYS} | more
    page = rendered_for(
        request,
        "people.html",
        trail=trail,
        by=by,
        refused=refused,
        now=utc_now(),
        everyone=everyone,
        own=own,
        this=this.number if this is not None else None,
        **values,
    )
    status = 200 if refused is None else STATUS[type(refused)]
    return HTMLResponse(page, status, {"Cache-Control": "no-store"})
