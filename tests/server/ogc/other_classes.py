"""Requirements of the classes HTML, GeoJSON and OpenAPI 3.0, and how each is checked."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from types import MappingProxyType

from shapely.geometry import shape

from tests.server.ogc.doors import GEOJSON, HTML, Door, links, resolved
from tests.server.ogc.requirements import OPENAPI, Check, with_features

# HTML, GeoJSON


def every_path(door: Door) -> Iterator[str]:
    yield from ("", "/api", "/conformance", "/collections")
    for name, page in with_features(door):
        yield f"/collections/{name}"
        yield f"/collections/{name}/schema"
        yield f"/collections/{name}/items"
        yield f"/collections/{name}/items/{page['features'][0]['id']}"


def html_definition(door: Door) -> None:
    for path in every_path(door):
        for asked in ({"accept": HTML}, {"f": "html"}):
            answer = door.get(path, **asked)
            assert answer.status_code == 200, path
            assert answer.headers["content-type"].startswith(HTML)


def html_content(door: Door) -> None:
    for name, page in with_features(door):
        shown = door.get(f"/collections/{name}/items", f="html", limit=3).text
        for one in page["features"]:
            assert str(one["id"]) in shown
        hrefs = re.findall(r'href="([^"]+)"', shown)
        assert any("?f=html" in href for href in hrefs)
        alone = door.get(f"/collections/{name}/items/{page['features'][0]['id']}", f="html").text
        assert "<h1>" in alone


def geojson_definition(door: Door) -> None:
    for name, _ in with_features(door):
        answer = door.get(f"/collections/{name}/items", accept=GEOJSON)
        assert answer.headers["content-type"] == GEOJSON


def geojson_content(door: Door) -> None:
    for _, page in with_features(door):
        assert page["type"] == "FeatureCollection"
        for one in page["features"]:
            assert one["type"] == "Feature"
            assert {"id", "geometry", "properties"} <= one.keys()
            if one["geometry"] is not None:
                assert shape(one["geometry"]).is_valid


# OpenAPI 3.0


def oas_definition(door: Door) -> None:
    links_to = links(door.told(), "service-desc")
    assert [link["type"] for link in links_to] == [OPENAPI]
    assert links(door.told(), "service-doc")[0]["type"] == HTML


def oas_valid(door: Door) -> None:
    document = door.told("/api")
    assert {"openapi", "info", "paths"} <= document.keys()
    assert {"title", "version"} <= document["info"].keys()
    names = [call["operationId"] for calls in document["paths"].values() for call in calls.values()]
    assert len(names) == len(set(names))
    for reference in re.findall(r'"\$ref":"([^"]+)"', door.get("/api").text):
        assert resolved(document, {"$ref": reference})


def oas_impl(door: Door) -> None:
    document = door.told("/api")
    assert document["servers"] == [{"url": door.root}]
    for path in document["paths"]:
        if "{" not in path:
            assert door.get(path.rstrip("/")).status_code == 200, path


def oas_completeness(door: Door) -> None:
    document = door.told("/api")
    for path in every_path(door):
        known = re.sub(r"/items/.+", "/items/{featureId}", path) or "/"
        answer = door.get(path)
        listed = document["paths"][known]["get"]["responses"]["200"]["content"]
        assert answer.headers["content-type"] in listed, path


def oas_exceptions(door: Door) -> None:
    for calls in door.told("/api")["paths"].values():
        assert {"400", "404", "406", "500"} <= calls["get"]["responses"].keys()


def oas_security(door: Door) -> None:
    document = door.told("/api")
    ways = document["components"].get("securitySchemes", {})
    if door.root.endswith("/open/ogc"):
        assert not ways
        return
    assert {(way["type"], way["scheme"]) for way in ways.values()} == {
        ("http", "basic"),
        ("http", "bearer"),
    }
    assert [list(one) for one in document["security"]] == [[name] for name in ways]


OTHER_CLASSES: Mapping[str, Check] = MappingProxyType(
    {
        "/req/html/definition": html_definition,
        "/req/html/content": html_content,
        "/req/geojson/definition": geojson_definition,
        "/req/geojson/content": geojson_content,
        "/req/oas30/oas-definition-1": oas_definition,
        "/req/oas30/oas-definition-2": oas_valid,
        "/req/oas30/oas-impl": oas_impl,
        "/req/oas30/completeness": oas_completeness,
        "/req/oas30/exceptions-codes": oas_exceptions,
        "/req/oas30/security": oas_security,
    }
)
"""Requirement -> the check that it is met."""
