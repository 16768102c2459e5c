"""The OpenAPI 3.0 document of a feature service.

Every collection has paths of its own, so that a client learns by which columns its
features can be chosen (OGC 17-069r4, recommendation 16) and what they hold.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from http import HTTPStatus
from importlib.metadata import version
from typing import Any

from layers.trail.exporting.collection import Collection, Source
from layers.trail.field import Field
from server.ogc.forms import FORMS, GEOJSON, HTML, JSON, OPENAPI, SCHEMA
from server.ogc.items_query import LIMIT_MOST, LIMIT_USUAL
from server.web.problems import PROBLEM_TYPE

Json = dict[str, Any]

REFUSED = (400, 404, 406, 500)

_TEXT: Json = {"type": "string"}


def _object(required: Sequence[str], properties: Json) -> Json:
    return {"type": "object", "required": list(required), "properties": properties}


def _query(name: str, description: str, schema: Json, *, style: str | None = "form") -> Json:
    """A parameter of the query string; `style` None = as OpenAPI has it by itself."""
    parameter = {"name": name, "in": "query", "description": description, "schema": schema}
    return parameter | ({} if style is None else {"style": style, "explode": False})


_LINK = _object(("href", "rel"), dict.fromkeys(("href", "rel", "type", "title"), _TEXT))
_LINKS: Json = {"type": "array", "items": {"$ref": "#/components/schemas/link"}}
_PROBLEM = _object(
    ("type", "title", "status", "detail"),
    {
        "type": _TEXT,
        "title": _TEXT,
        "status": {"type": "integer"},
        "detail": _TEXT,
        "faults": {"type": "array", "items": {"type": "object"}},
    },
)
_LIMIT: Json = {"type": "integer", "minimum": 1, "maximum": LIMIT_MOST, "default": LIMIT_USUAL}
_BBOX: Json = {
    "type": "array",
    "oneOf": [{"minItems": number, "maxItems": number} for number in (4, 6)],
    "items": {"type": "number"},
}
_PARAMETERS: Json = {
    one["name"]: one
    for one in (
        _query(
            "f",
            "The form of the answer; else the Accept header decides.",
            {"type": "string", "enum": list(FORMS)},
            style=None,
        ),
        _query(
            "limit", f"How many features at most; more than {LIMIT_MOST} is taken for that.", _LIMIT
        ),
        _query(
            "offset",
            "How many features to leave out first.",
            {"type": "integer", "minimum": 0, "default": 0},
        ),
        _query(
            "bbox",
            "Only features that meet these bounds: west, south, east, north in degrees; "
            "west greater than east crosses the antimeridian. Of six numbers the third and "
            "sixth are heights, which are ignored. A feature without a shape meets any.",
            _BBOX,
        ),
        _query(
            "datetime",
            "Only features of this time: an RFC 3339 moment or a day (of the trail's own "
            "clock), or two of them joined by a slash, with .. where open. A feature without "
            "a time meets any.",
            _TEXT,
        ),
    )
}


def openapi(source: Source, *, root: str, security: Mapping[str, Mapping[str, Any]]) -> Json:
    """The document.

    Parameters
    ----------
    root
        Address of the service.
    security
        Ways to sign in, by name, as OpenAPI security schemes; empty = without signing in.
    """
    every = [source.collection(name) for name in source.names]
    paths = {
        "/": _get("The landing page", "getLandingPage", _answer({"$ref": _schema("landing")})),
        "/api": _get(
            "This document", "getApi", {"200": _content({OPENAPI: {"type": "object"}, HTML: _TEXT})}
        ),
        "/conformance": _get(
            "What is conformed to", "getConformance", _answer({"$ref": _schema("conformance")})
        ),
        "/collections": _get(
            "All collections", "getCollections", _answer({"$ref": _schema("collections")})
        ),
    }
    for one in every:
        paths |= _collection_paths(one)
    document: Json = {
        "openapi": "3.0.3",
        "info": {
            "title": source.title,
            "description": source.statement,
            "version": version("boxround"),
            **_licence(source),
        },
        "servers": [{"url": root}],
        "paths": paths,
        "components": {
            "schemas": _schemas() | {f"{one.name}Feature": _feature(one) for one in every},
            "parameters": _PARAMETERS,
            "responses": {
                HTTPStatus(status).name: {
                    "description": HTTPStatus(status).phrase,
                    "content": {
                        PROBLEM_TYPE: {"schema": {"$ref": _schema("problem")}},
                        HTML: {"schema": _TEXT},
                    },
                }
                for status in (*REFUSED, 401, 429)
            },
        },
    }
    if security:
        document["components"]["securitySchemes"] = dict(security)
        document["security"] = [{name: []} for name in security]
        refused = {
            str(status): {"$ref": f"#/components/responses/{HTTPStatus(status).name}"}
            for status in (401, 429)
        }
        for calls in paths.values():
            calls["get"]["responses"] |= refused
    return document


def _licence(source: Source) -> Json:
    if source.licence is None:
        return {}
    if source.licence.startswith("http"):
        return {"license": {"name": source.licence, "url": source.licence}}
    return {"license": {"name": source.licence}}


def _schema(name: str) -> str:
    return f"#/components/schemas/{name}"


def _content(shapes: Mapping[str, Json], description: str = "The requested data") -> Json:
    content = {media_type: {"schema": shape} for media_type, shape in shapes.items()}
    return {"description": description, "content": content}


def _answer(shape: Json, media_type: str = JSON) -> Json:
    return {"200": _content({media_type: shape, HTML: _TEXT})}


def _get(summary: str, name: str, answers: Json, parameters: tuple[Json, ...] = ()) -> Json:
    refused = {
        str(status): {"$ref": f"#/components/responses/{HTTPStatus(status).name}"}
        for status in REFUSED
    }
    return {
        "get": {
            "summary": summary,
            "operationId": name,
            "parameters": [{"$ref": "#/components/parameters/f"}, *parameters],
            "responses": {**answers, **refused},
        }
    }


def _collection_paths(one: Collection) -> Json:
    shared = tuple(
        {"$ref": f"#/components/parameters/{name}"}
        for name in ("limit", "offset", "bbox", "datetime")
    )
    kinds = {column.name: column for column in one.fields}
    picks = tuple(
        _query(name, f"Only features with this value: {kinds[name].note}.", _plain(kinds[name]))
        for name in one.picks
    )
    feature = {"$ref": _schema(f"{one.name}Feature")}
    page = {
        "allOf": [
            {"$ref": _schema("page")},
            {"properties": {"features": {"type": "array", "items": feature}}},
        ]
    }
    identity = {
        "name": "featureId",
        "in": "path",
        "required": True,
        "description": "The lasting id of a feature.",
        "schema": {"type": "string", "minLength": 1},
    }
    base, title = f"/collections/{one.name}", one.title
    name = one.name.capitalize()
    return {
        base: _get(f"{title}: about", f"describe{name}", _answer({"$ref": _schema("collection")})),
        f"{base}/schema": _get(
            f"{title}: columns", f"get{name}Schema", _answer({"type": "object"}, SCHEMA)
        ),
        f"{base}/items": _get(one.note, f"get{name}", _answer(page, GEOJSON), (*shared, *picks)),
        f"{base}/items/{{featureId}}": _get(
            f"{title}: one", f"getOneOf{name}", _answer(feature, GEOJSON), (identity,)
        ),
    }


def _feature(one: Collection) -> Json:
    return {
        "type": "object",
        "description": one.note,
        "required": ["type", "id", "geometry", "properties"],
        "properties": {
            "type": {"type": "string", "enum": ["Feature"]},
            "id": {"oneOf": [{"type": "string"}, {"type": "integer"}]},
            "geometry": {"type": "object", "nullable": True, "description": "RFC 7946"},
            "properties": {
                "type": "object",
                "additionalProperties": False,
                "properties": {
                    column.name: {
                        # A desktop GIS can write other text where a day belongs.
                        **_plain(column),
                        "nullable": True,
                        "description": column.description,
                    }
                    for column in one.fields
                },
            },
            "links": _LINKS,
        },
    }


def _plain(field: Field) -> Json:
    return {"type": field.json_schema()["type"]}


def schema(one: Collection) -> Json:
    """The JSON Schema of a collection's features: what each column holds where it is recorded.

    Null is left out of the kinds: GDAL 3.12 takes a column of two kinds for text.
    """
    values = {column.name: column.json_schema() for column in one.fields}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": one.title,
        "description": one.note,
        "type": "object",
        "required": ["type", "geometry", "properties"],
        "properties": {
            "type": {"const": "Feature"},
            "id": {"type": ["string", "integer"]},
            "geometry": {"type": ["object", "null"], "description": "RFC 7946"},
            "properties": {"type": "object", "properties": values},
        },
    }


def _schemas() -> Json:
    described = {
        **dict.fromkeys(("id", "title", "description", "itemType"), _TEXT),
        "crs": {"type": "array", "items": _TEXT},
        "extent": {"type": "object"},
        "links": _LINKS,
    }
    listed = {"type": "array", "items": {"$ref": _schema("collection")}}
    return {
        "link": _LINK,
        "problem": _PROBLEM,
        "landing": _object(("links",), {"title": _TEXT, "description": _TEXT, "links": _LINKS}),
        "conformance": _object(("conformsTo",), {"conformsTo": {"type": "array", "items": _TEXT}}),
        "collection": _object(("id", "links"), described),
        "collections": _object(("links", "collections"), {"links": _LINKS, "collections": listed}),
        "page": _object(
            ("type", "features"),
            {
                "type": {"type": "string", "enum": ["FeatureCollection"]},
                "links": _LINKS,
                "timeStamp": {"type": "string", "format": "date-time"},
                "numberMatched": {"type": "integer", "minimum": 0},
                "numberReturned": {"type": "integer", "minimum": 0},
            },
        ),
    }
