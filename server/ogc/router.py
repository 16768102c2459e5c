"""The routes of a feature service: OGC API - Features - Part 1: Core 1.0 (OGC 17-069r4).

One factory serves the team and the public: what differs is the source alone.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC
from http import HTTPStatus
from typing import Any, Protocol

import orjson
from fastapi import APIRouter, Request
from starlette.responses import Response
from starlette.types import Scope

from layers.errors import BadValue, Fault, NotKnown
from layers.trail.exporting.collection import Collection, Source
from server.live.clock import utc_now
from server.ogc import documents
from server.ogc.documents import Address, item_path
from server.ogc.forms import GEOJSON, HTML, JSON, OPENAPI, SCHEMA, Form, form_of
from server.ogc.items_query import CONTROLS, only, read_items_query
from server.ogc.openapi import openapi, schema
from server.web.problems import faults_of, problem_answer
from server.web.templating import rendered

NO_SIGN_IN: Mapping[str, Mapping[str, Any]] = {}


class Refusal(Protocol):
    """Makes the answer to a request that cannot be served."""

    def __call__(
        self, scope: Scope, status: int, detail: str, *, faults: Sequence[Fault] = ()
    ) -> Response: ...


@dataclass(frozen=True)
class _Document:
    """A document, what it is sent as, and the page that shows it."""

    value: dict[str, Any]
    media_type: str
    template: str
    shown: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class _Call:
    """One request: where it goes, in which form it is answered, and its parameters."""

    source: Source
    address: Address
    form: Form
    given: Mapping[str, str]


def features_router(
    source: Callable[[Request], Source],
    *,
    prefix: str,
    base: str = "base.html",
    public_url: str | None = None,
    security: Mapping[str, Mapping[str, Any]] = NO_SIGN_IN,
    refused: Refusal = problem_answer,
) -> APIRouter:
    """The routes below `prefix`.

    Parameters
    ----------
    source
        Gives the collections that a request may see.
    base
        Template around the HTML pages.
    public_url
        Scheme and host by which people reach the server; None = as in the request.
    security
        How a program signs in, for the OpenAPI document; empty = without signing in.
    refused
        Makes the answer to a request that cannot be served.
    """
    # The service has an OpenAPI document of its own, at `api`.
    router = APIRouter(prefix=prefix, include_in_schema=False)

    def answered(
        request: Request,
        path: str,
        describe: Callable[[_Call], _Document],
        *,
        collection: str | None = None,
    ) -> Response:
        try:
            return _answer(request, path, describe, collection=collection)
        except BadValue as error:
            # The standard has 400 where our own calls have 422.
            return refused(request.scope, 400, str(error), faults=faults_of(error))
        except NotKnown as error:
            return refused(request.scope, 404, str(error))

    def _answer(
        request: Request,
        path: str,
        describe: Callable[[_Call], _Document],
        *,
        collection: str | None,
    ) -> Response:
        seen = source(request)
        allowed = ["f"]
        if collection is not None:
            allowed = [*CONTROLS, *seen.collection(collection).picks]
        pairs = request.query_params.multi_items()
        given = only(pairs, allowed)
        form = form_of(given.get("f"), request.headers.get("accept", ""))
        if form is None:
            return refused(
                request.scope,
                HTTPStatus.NOT_ACCEPTABLE,
                f"Expected {JSON} or {HTML} to be accepted, got {request.headers['accept']!r}",
            )
        address = Address(_root(request, public_url) + prefix, path, tuple(pairs))
        document = describe(_Call(seen, address, form, given))
        headers = {"Vary": "Accept", "Cache-Control": "no-cache"}
        if form == "json":
            return Response(orjson.dumps(document.value), 200, headers, document.media_type)
        page = rendered(
            document.template,
            base=base,
            root=address.root,
            source=seen,
            record=document.value,
            **document.shown,
        )
        return Response(page, 200, headers, f"{HTML}; charset=utf-8")

    @router.get("")
    def landing(request: Request) -> Response:
        return answered(
            request,
            "",
            lambda call: _Document(
                documents.landing(call.source, call.address, call.form), JSON, "ogc_landing.html"
            ),
        )

    @router.get("/api")
    def api(request: Request) -> Response:
        return answered(
            request,
            "/api",
            lambda call: _Document(
                openapi(call.source, root=call.address.root, security=security),
                OPENAPI,
                "ogc_api.html",
            ),
        )

    @router.get("/conformance")
    def conformance(request: Request) -> Response:
        document = _Document(documents.conformance(), JSON, "ogc_conformance.html")
        return answered(request, "/conformance", lambda _: document)

    @router.get("/collections")
    def collections(request: Request) -> Response:
        return answered(
            request,
            "/collections",
            lambda call: _Document(
                documents.collections(call.source, call.address, call.form),
                JSON,
                "ogc_collections.html",
            ),
        )

    @router.get("/collections/{name}")
    def collection(request: Request, name: str) -> Response:
        def describe(call: _Call) -> _Document:
            one = call.source.collection(name)
            value = documents.collection(call.source, one, call.address, call.form)
            return _Document(value, JSON, "ogc_collection.html", {"one": one})

        return answered(request, f"/collections/{name}", describe)

    @router.get("/collections/{name}/schema")
    def columns(request: Request, name: str) -> Response:
        def describe(call: _Call) -> _Document:
            one = call.source.collection(name)
            return _Document(schema(one), SCHEMA, "ogc_collection.html", {"one": one})

        return answered(request, f"/collections/{name}/schema", describe)

    @router.get("/collections/{name}/items")
    def items(request: Request, name: str) -> Response:
        return answered(
            request,
            f"/collections/{name}/items",
            lambda call: _items(call, call.source.collection(name)),
            collection=name,
        )

    @router.get("/collections/{name}/items/{feature_id:path}")
    def item(request: Request, name: str, feature_id: str) -> Response:
        def describe(call: _Call) -> _Document:
            one = call.source.collection(name)
            row = one.row(feature_id)
            value = documents.one_feature(row, call.address, call.form)
            place = None if row.shape is None else row.shape.wkt
            return _Document(value, GEOJSON, "ogc_item.html", {"one": one, "place": place})

        return answered(request, item_path(name, feature_id), describe)

    return router


def _items(call: _Call, one: Collection) -> _Document:
    query = read_items_query(call.given, zone=one.zone)
    found = one.chosen(bbox=query.bbox, minutes=query.minutes, where=query.where)
    value = documents.items(
        one.read(found[query.offset : query.offset + query.limit]),
        address=call.address,
        form=call.form,
        matched=len(found),
        offset=query.offset,
        limit=query.limit,
        moment=utc_now().astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ"),
    )
    shown = {"one": one, "offset": query.offset, "item_path": item_path, "link_to": shown_link}
    return _Document(value, GEOJSON, "ogc_items.html", shown)


def shown_link(links: list[dict[str, str]], rel: str) -> str | None:
    """The address of a link by its relation; None if there is none."""
    return next((one["href"] for one in links if one["rel"] == rel), None)


def _root(request: Request, public_url: str | None) -> str:
    """Where people reach the app: by the public address, where the settings have one."""
    # Not `base_url`: that leaves out where the app is mounted.
    own = f"{request.url.scheme}://{request.url.netloc}" if public_url is None else public_url
    root_path: str = request.scope.get("root_path", "")
    return own.rstrip("/") + root_path.rstrip("/")
