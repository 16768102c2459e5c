"""Errors as answers: RFC 9457 problem details for programs, a plain page for people."""

from __future__ import annotations

import logging
import secrets
import traceback
from collections.abc import Mapping, Sequence
from http import HTTPStatus
from types import MappingProxyType
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from pydantic import BaseModel, ConfigDict
from starlette.exceptions import HTTPException
from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from layers.errors import (
    BadValue,
    BoxroundError,
    CallerError,
    Conflict,
    EnvironmentFault,
    Fault,
    NotATrail,
    NotKnown,
    Refused,
    StorageFull,
    TrailBusy,
)
from server.web.base import at
from server.web.templating import rendered

STATUS: Mapping[type[BoxroundError], int] = MappingProxyType(
    {
        BoxroundError: 500,
        CallerError: 400,
        BadValue: 422,
        Refused: 422,
        NotKnown: 404,
        Conflict: 409,
        EnvironmentFault: 503,
        TrailBusy: 503,
        StorageFull: 503,
        NotATrail: 503,
    }
)
"""The status that each error is answered with."""

PROBLEM_TYPE = "application/problem+json"
"""Media type of a problem, RFC 9457, section 3."""

RETRY_AFTER_S = 5
"""Seconds after which to send again what the file, the disk or another program held up."""

_log = logging.getLogger("boxround.server")


class FaultShape(BaseModel):
    """One thing wrong with what was sent."""

    model_config = ConfigDict(extra="forbid")

    expected: str
    came: str
    column: str | None = None


class Problem(BaseModel):
    """An error, in the form of RFC 9457."""

    model_config = ConfigDict(extra="forbid")

    type: str
    title: str
    status: int
    detail: str
    faults: list[FaultShape] = []


def documented(*statuses: int) -> dict[int | str, dict[str, Any]]:
    """Error answers of a route, for the OpenAPI document."""
    return {
        status: {"model": Problem, "description": HTTPStatus(status).phrase} for status in statuses
    }


def problem_answer(
    scope: Scope, status: int, detail: str, *, faults: Sequence[Fault] = ()
) -> Response:
    """The answer to an error, in the form that suits the sender."""
    title = HTTPStatus(status).phrase
    headers = {"Cache-Control": "no-store", "Vary": "Accept"}
    if status == HTTPStatus.SERVICE_UNAVAILABLE:
        headers["Retry-After"] = str(RETRY_AFTER_S)
    if is_for_a_person(scope):
        page = rendered("problem.html", title=title, status=status, detail=detail, faults=faults)
        return HTMLResponse(page, status, headers)
    problem = Problem(
        type=at(f"/help#problem-{status}"),
        title=title,
        status=status,
        detail=detail,
        faults=[FaultShape(expected=f.expected, came=f.came, column=f.column) for f in faults],
    )
    return JSONResponse(
        problem.model_dump(exclude_none=True), status, headers, media_type=PROBLEM_TYPE
    )


def is_for_a_person(scope: Scope) -> bool:
    """Whether a page suits the sender better than a problem for programs."""
    if scope["path"].removeprefix(scope.get("root_path", "")).startswith("/api/"):
        return False
    accept = next((value for name, value in scope["headers"] if name == b"accept"), b"")
    return b"text/html" in accept


def faults_of(error: BoxroundError) -> tuple[Fault, ...]:
    """Every single fault of an error; may be empty."""
    if isinstance(error, Refused):
        return error.faults
    return (error.fault,) if isinstance(error, BadValue) else ()


async def _our_error(request: Request, error: Exception) -> Response:
    assert isinstance(error, BoxroundError)
    if isinstance(error, EnvironmentFault):
        _log.warning("%s: %s", _route_of(request.scope), error)
    summary = error.summary if isinstance(error, Refused) else str(error)
    return problem_answer(request.scope, STATUS[type(error)], summary, faults=faults_of(error))


async def _bad_request(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    faults = [_fault(entry) for entry in error.errors()]
    return problem_answer(
        request.scope, 422, "; ".join(str(fault) for fault in faults), faults=faults
    )


def _fault(entry: Mapping[str, Any]) -> Fault:
    name = ".".join(str(part) for part in entry["loc"][1:]) or None
    kind = entry["type"]
    if kind == "extra_forbidden":
        return Fault("only names that this address takes", f"{name!r}", column=name)
    if kind == "missing":
        return Fault("a value", "nothing", column=name)
    if kind == "model_attributes_type":
        return Fault("a JSON object, sent as application/json", "something else")
    if kind == "json_invalid":
        return Fault("a JSON object", "text that is no JSON")
    expected = entry["msg"].removeprefix("Input should be ")
    return Fault(expected, repr(entry["input"]), column=name)


async def _http_error(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    if error.status_code == HTTPStatus.NOT_FOUND:
        detail = f"There is nothing at {request.url.path}"
    elif error.status_code == HTTPStatus.METHOD_NOT_ALLOWED:
        detail = f"{request.url.path} does not take {request.method}"
    else:
        detail = error.detail
    answer = problem_answer(request.scope, error.status_code, detail)
    answer.headers.update(error.headers or {})
    return answer


def _route_of(scope: Scope) -> str:
    """The requested data, without what the person filled in."""
    return f"{scope['method']} {getattr(scope.get('route'), 'path', 'no route')}"


def add_error_answers(app: FastAPI) -> None:
    """Let an app answer every error in one form."""
    app.add_exception_handler(BoxroundError, _our_error)
    app.add_exception_handler(RequestValidationError, _bad_request)
    app.add_exception_handler(HTTPException, _http_error)


class LastResort:
    """Answers an error that was not foreseen: logged with an id, and only the id is shown."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        started = False

        async def watched(message: Message) -> None:
            nonlocal started
            started = True
            await send(message)

        try:
            await self._app(scope, receive, watched)
        except Exception as error:
            if started or scope["type"] != "http":
                raise
            number = secrets.token_hex(4)
            # Where it happened, but not the error's own text: that may hold a name or a place.
            frames = "".join(traceback.format_tb(error.__traceback__))
            kind = type(error).__name__
            _log.error("problem %s, %s in %s\n%s", number, kind, _route_of(scope), frames)
            answer = problem_answer(
                scope,
                500,
                f"Something went wrong that should not have. It is in the log as {number}.",
            )
            await answer(scope, receive, send)
