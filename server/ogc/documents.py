"""The documents that describe what is served: landing page, conformance, collections, features.

Shapes and link relations follow OGC API - Features - Part 1: Core 1.0 (OGC 17-069r4),
clauses 7.2 to 7.16.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote, urlencode

from layers.trail.exporting.collection import Collection, Row, Source
from layers.trail.exporting.geojson import feature
from server.ogc.forms import FORMS, GEOJSON, HTML, JSON, OPENAPI, SCHEMA, Form

CONFORMS_TO = tuple(
    f"http://www.opengis.net/spec/ogcapi-features-1/1.0/conf/{name}"
    for name in ("core", "oas30", "html", "geojson")
)
CRS84 = "http://www.opengis.net/def/crs/OGC/1.3/CRS84"
GREGORIAN = "http://www.opengis.net/def/uom/ISO-8601/0/Gregorian"

Link = dict[str, str]


@dataclass(frozen=True)
class Address:
    """Where a document is: the root of the service, the path below it, and its parameters."""

    root: str
    path: str = ""
    parameters: tuple[tuple[str, str], ...] = ()

    def at(self, path: str) -> Address:
        return Address(self.root, path)

    def url(self, form: Form | None = None, **changed: int) -> str:
        """The address, in a form, with some parameters changed."""
        new = {name: str(value) for name, value in changed.items()}
        if form is not None:
            new["f"] = form
        others = [(name, text) for name, text in self.parameters if name not in new]
        query = urlencode([*others, *new.items()])
        return f"{self.root}{self.path}{f'?{query}' if query else ''}"


def link(address: str, rel: str, media_type: str, title: str) -> Link:
    return {"href": address, "rel": rel, "type": media_type, "title": title}


def own_links(address: Address, form: Form, json_type: str) -> list[Link]:
    """Links to the document itself: in this form, and in each other one."""
    types = {"json": json_type, "html": HTML}
    return [
        link(
            address.url(other),
            "self" if other == form else "alternate",
            types[other],
            f"This document as {other.upper()}",
        )
        for other in (form, *(one for one in FORMS if one != form))
    ]


def landing(source: Source, address: Address, form: Form) -> dict[str, Any]:
    about = address.at("/api")
    return {
        "title": source.title,
        "description": source.statement,
        "links": [
            *own_links(address, form, JSON),
            link(about.url("json"), "service-desc", OPENAPI, "Queries, for programs"),
            link(about.url("html"), "service-doc", HTML, "Queries, for people"),
            *_both(address.at("/conformance"), "conformance", "What this service conforms to"),
            *_both(address.at("/collections"), "data", "The collections"),
        ],
    }


def _both(address: Address, rel: str, title: str, json_type: str = JSON) -> list[Link]:
    return [
        link(address.url("json"), rel, json_type, title),
        link(address.url("html"), rel, HTML, title),
    ]


def conformance() -> dict[str, Any]:
    return {"conformsTo": list(CONFORMS_TO)}


def collections(source: Source, address: Address, form: Form) -> dict[str, Any]:
    found = (source.collection(name) for name in source.names)
    return {
        "links": own_links(address, form, JSON),
        "collections": [
            collection(source, one, address.at(f"/collections/{one.name}"), None) for one in found
        ],
    }


def collection(
    source: Source, described: Collection, address: Address, form: Form | None
) -> dict[str, Any]:
    """One collection; `form` None where it is a part of another document."""
    here = _both(address, "self", described.title) if form is None else []
    links = here or own_links(address, form or "json", JSON)
    links += _both(address.at(f"{address.path}/items"), "items", described.title, GEOJSON)
    described_by = address.at(f"{address.path}/schema").url("json")
    links.append(link(described_by, "describedby", SCHEMA, "What each column holds"))
    if source.licence is not None and source.licence.startswith("http"):
        links.append(link(source.licence, "license", HTML, "Terms"))
    extent: dict[str, Any] = {}
    if described.bounds is not None:
        extent["spatial"] = {"bbox": [list(described.bounds)], "crs": CRS84}
    if described.interval is not None:
        extent["temporal"] = {"interval": [list(described.interval)], "trs": GREGORIAN}
    record: dict[str, Any] = {
        "id": described.name,
        "title": described.title,
        "description": described.note,
        "itemType": "feature",
        "crs": [CRS84],
        "links": links,
    }
    return record | ({"extent": extent} if extent else {})


def items(
    found: Sequence[Row],
    *,
    address: Address,
    form: Form,
    matched: int,
    offset: int,
    limit: int,
    moment: str,
) -> dict[str, Any]:
    """A page of features, with the address of the next page while there is one."""
    links = own_links(address, form, GEOJSON)
    media_type = GEOJSON if form == "json" else HTML
    if offset + limit < matched:
        following = address.url(form, offset=offset + limit, limit=limit)
        links.append(link(following, "next", media_type, "The features after these"))
    if offset > 0:
        before = address.url(form, offset=max(offset - limit, 0), limit=limit)
        links.append(link(before, "prev", media_type, "The features before these"))
    parent = address.at(address.path.removesuffix("/items"))
    links += _both(parent, "collection", "The collection")
    return {
        "type": "FeatureCollection",
        "features": [feature(row) for row in found],
        "links": links,
        "timeStamp": moment,
        "numberMatched": matched,
        "numberReturned": len(found),
    }


def one_feature(row: Row, address: Address, form: Form) -> dict[str, Any]:
    parent = address.at(address.path.rpartition("/items/")[0])
    links = [*own_links(address, form, GEOJSON), *_both(parent, "collection", "The collection")]
    return feature(row) | {"links": links}


def item_path(collection_name: str, row_id: str | int) -> str:
    """The path of a feature below the root; an id may hold any sign."""
    return f"/collections/{collection_name}/items/{quote(str(row_id), safe='')}"
