"""Each requirement of OGC API - Features - Part 1: Core 1.0, and the check that it is met.

The identifiers are those of OGC 17-069r4, classes Core, HTML, GeoJSON and OpenAPI 3.0;
they and the sense of each are from memory.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from datetime import datetime
from types import MappingProxyType
from typing import Any

import shapely
from shapely.geometry import shape

from tests.server.ogc.doors import GEOJSON, HTML, JSON, Door, linked, links, parameters

CRS84 = "http://www.opengis.net/def/crs/OGC/1.3/CRS84"
CLASS = "http://www.opengis.net/spec/ogcapi-features-1/1.0/conf/"
OPENAPI = "application/vnd.oai.openapi+json;version=3.0"
NOT_THERE = "no-such-thing"

Check = Callable[[Door], None]


def described(door: Door) -> list[Any]:
    found: list[Any] = door.told("/collections")["collections"]
    assert found
    return found


def with_features(door: Door) -> Iterator[tuple[str, Any]]:
    """Collections that hold something, with their first page."""
    pages = [(name, door.told(f"/collections/{name}/items", limit=3)) for name in door.names()]
    held = [(name, page) for name, page in pages if page["features"]]
    assert held
    return iter(held)


def root_op(door: Door) -> None:
    assert door.get().status_code == 200


def root_success(door: Door) -> None:
    told = door.told()
    for rel in ("service-desc", "service-doc", "conformance", "data"):
        address = linked(told, rel)
        assert address is not None, rel
        assert address.startswith(door.root)


def api_definition_op(door: Door) -> None:
    told = door.told()
    for link in links(told, "service-desc") + links(told, "service-doc"):
        answer = door.get(link["href"], accept=link["type"])
        assert answer.status_code == 200
        assert answer.headers["content-type"].startswith(link["type"])


def api_definition_success(door: Door) -> None:
    address = linked(door.told(), "service-desc")
    assert address is not None
    assert door.told(address)["openapi"].startswith("3.0.")


def conformance_op(door: Door) -> None:
    address = linked(door.told(), "conformance")
    assert address is not None
    assert door.get(address).status_code == 200


def conformance_success(door: Door) -> None:
    told = door.told("/conformance")["conformsTo"]
    assert {f"{CLASS}{name}" for name in ("core", "oas30", "html", "geojson")} == set(told)


def http(door: Door) -> None:
    assert door.client.post(door.root).status_code == 405
    assert door.get(f"/{NOT_THERE}").status_code == 404
    assert door.get(f"/collections/{NOT_THERE}").status_code == 404
    assert door.get(f"/collections/{NOT_THERE}/items").status_code == 404
    assert door.get(f"/collections/{door.names()[0]}/items/{NOT_THERE}").status_code == 404
    assert door.get("/collections", accept="image/png").status_code == 406


def query_param_unknown(door: Door) -> None:
    name = door.names()[0]
    for path in (
        "",
        "/api",
        "/conformance",
        "/collections",
        f"/collections/{name}",
        f"/collections/{name}/items",
    ):
        assert door.get(path, no_such="1").status_code == 400, path


def query_param_invalid(door: Door) -> None:
    path = f"/collections/{door.names()[0]}/items"
    wrong = {
        "limit": ("0", "-1", "many", "1.5", "", "١"),
        "bbox": ("1,2,3", "1,2,3,4,5", "a,b,c,d", "0,10,1,5", "0,0,inf,1", "nan,0,1,1", ""),
        "datetime": ("yesterday", "2026-13-01", "2026-05-02/2026-05-01", "../../..", "2026", ""),
        "f": ("xml", "", "JSON "),
        "offset": ("-1", "x"),
    }
    for name, texts in wrong.items():
        for text in texts:
            assert door.get(path, **{name: text}).status_code == 400, (name, text)
    assert door.client.get(f"{door.root}{path}?limit=1&limit=2").status_code == 400


def crs84(door: Door) -> None:
    for one in described(door):
        assert one["crs"] == [CRS84]
    for name, page in with_features(door):
        for feature in page["features"]:
            if feature["geometry"] is not None:
                west, south, east, north = shape(feature["geometry"]).bounds
                assert -180 <= west <= east <= 180, name
                assert -90 <= south <= north <= 90, name


def fc_md_op(door: Door) -> None:
    assert door.get("/collections").status_code == 200


def fc_md_success(door: Door) -> None:
    told = door.told("/collections")
    assert isinstance(told["links"], list)
    assert isinstance(told["collections"], list)


def fc_md_links(door: Door) -> None:
    expect_forms(door.told("/collections"), JSON)


def expect_forms(told: Any, json_type: str) -> None:
    """The document links to itself and to its other form, each with its media type."""
    assert [link["type"] for link in links(told, "self")] == [json_type]
    assert [link["type"] for link in links(told, "alternate")] == [HTML]


def fc_md_items(door: Door) -> None:
    names = [one["id"] for one in described(door)]
    assert len(names) == len(set(names))
    for name in names:
        assert door.told(f"/collections/{name}")["id"] == name


def fc_md_items_links(door: Door) -> None:
    for one in described(door):
        assert {link["type"] for link in links(one, "items")} == {GEOJSON, HTML}
        for link in links(one, "items"):
            answer = door.get(link["href"], accept=None)
            assert answer.headers["content-type"].startswith(link["type"])


def fc_md_extent(door: Door) -> None:
    for one in described(door):
        shapes = [
            shape(feature["geometry"])
            for feature in door.features(one["id"], limit=10_000)
            if feature["geometry"] is not None
        ]
        if not shapes:
            assert "spatial" not in one.get("extent", {})
            continue
        (bounds,) = one["extent"]["spatial"]["bbox"]
        assert shapely.box(*bounds).buffer(1e-9).contains(shapely.union_all(shapes))
        for interval in one["extent"].get("temporal", {}).get("interval", []):
            assert all(end is None or end.endswith("Z") for end in interval)


def sfc_md_op(door: Door) -> None:
    for name in door.names():
        assert door.get(f"/collections/{name}").status_code == 200


def sfc_md_success(door: Door) -> None:
    for one in described(door):
        alone = door.told(f"/collections/{one['id']}")
        for key in ("id", "title", "description", "extent", "itemType", "crs"):
            assert alone.get(key) == one.get(key)
        expect_forms(alone, JSON)


def fc_op(door: Door) -> None:
    for name in door.names():
        assert door.get(f"/collections/{name}/items").status_code == 200


def fc_limit_definition(door: Door) -> None:
    for name in door.names():
        found = parameters(door, name)["limit"]
        assert (found["in"], found.get("required", False)) == ("query", False)
        assert found["schema"]["type"] == "integer"
        assert found["schema"]["minimum"] == 1
        assert 1 <= found["schema"]["default"] <= found["schema"]["maximum"]


def fc_limit_response(door: Door) -> None:
    for name, page in with_features(door):
        usual = parameters(door, name)["limit"]["schema"]
        path = f"/collections/{name}/items"
        matched = page["numberMatched"]
        assert len(door.told(path, limit=1)["features"]) == 1
        assert len(door.told(path)["features"]) == min(matched, usual["default"])
        above = door.told(path, limit=usual["maximum"] + 1)
        assert len(above["features"]) == min(matched, usual["maximum"])


def fc_bbox_definition(door: Door) -> None:
    for name in door.names():
        found = parameters(door, name)["bbox"]
        assert (found["in"], found.get("required", False)) == ("query", False)
        assert found["schema"]["type"] == "array"
        assert found["schema"]["items"]["type"] == "number"
        assert (found["style"], found["explode"]) == ("form", False)


def fc_bbox_response(door: Door) -> None:
    for name, page in with_features(door):
        every = {str(one["id"]): one["geometry"] for one in door.features(name, limit=10_000)}
        placed = [shape(geometry) for geometry in every.values() if geometry is not None]
        west, south, east, north = shapely.union_all(placed).bounds
        middle = (west + east) / 2
        for asked in (
            (west, south, middle, north),
            (middle, south, 0, east, north, 9),
            (middle, -90, west - 1e-6, 90),
            (0, 0, 1, 1),
        ):
            half = len(asked) // 2
            parts = [(*asked[:2], *asked[half : half + 2])]
            if parts[0][0] > parts[0][2]:
                parts = [(parts[0][0], -90, 180, 90), (-180, -90, parts[0][2], 90)]
            wanted = shapely.union_all([shapely.box(*part) for part in parts])
            expected = {
                one
                for one, geometry in every.items()
                if geometry is None or shape(geometry).intersects(wanted)
            }
            text = ",".join(str(number) for number in asked)
            found = door.features(name, bbox=text, limit=1000)
            assert {str(one["id"]) for one in found} == expected, (name, text)
        assert page["numberMatched"] == len(every)


def fc_time_definition(door: Door) -> None:
    for name in door.names():
        found = parameters(door, name)["datetime"]
        assert (found["in"], found.get("required", False)) == ("query", False)
        assert found["schema"] == {"type": "string"}


def fc_time_response(door: Door) -> None:
    timed = [one for one in described(door) if "temporal" in one.get("extent", {})]
    assert timed
    for one in timed:
        path = f"/collections/{one['id']}/items"
        matched = door.told(path)["numberMatched"]
        ((first, last),) = one["extent"]["temporal"]["interval"]
        for asked in ("../..", "/2100-01-01T00:00:00Z", "2000-01-01T00:00:00Z/.."):
            assert door.told(path, datetime=asked)["numberMatched"] == matched
        if first is not None and last is not None:
            assert door.told(path, datetime=f"{first}/{last}")["numberMatched"] == matched
        if last is not None:
            assert door.told(path, datetime="2099-01-01T00:00:00Z")["numberMatched"] == 0
        if first is not None:
            assert door.told(path, datetime="../1999-12-31T23:59:59Z")["numberMatched"] == 0
    for one in described(door):
        if "temporal" not in one.get("extent", {}):
            path = f"/collections/{one['id']}/items"
            without = door.told(path)["numberMatched"]
            assert door.told(path, datetime="1999-01-01")["numberMatched"] == without


def fc_response(door: Door) -> None:
    for name, _ in with_features(door):
        every = door.features(name, limit=7)
        ids = [one["id"] for one in every]
        assert len(ids) == len(set(ids)) == door.told(f"/collections/{name}/items")["numberMatched"]


def fc_links(door: Door) -> None:
    for _, page in with_features(door):
        expect_forms(page, GEOJSON)
        assert linked(page, "next") is None or page["numberMatched"] > page["numberReturned"]


def fc_rel_type(door: Door) -> None:
    for _, page in with_features(door):
        assert all(link["rel"] and link["type"] for link in page["links"])


def fc_time_stamp(door: Door) -> None:
    for _, page in with_features(door):
        assert datetime.fromisoformat(page["timeStamp"]).utcoffset() is not None
        assert page["timeStamp"].endswith("Z")


def fc_number_matched(door: Door) -> None:
    for name, page in with_features(door):
        assert page["numberMatched"] == len(door.features(name, limit=1000))


def fc_number_returned(door: Door) -> None:
    for _, page in with_features(door):
        assert page["numberReturned"] == len(page["features"])


def f_op(door: Door) -> None:
    for name, page in with_features(door):
        for one in page["features"]:
            assert door.get(f"/collections/{name}/items/{one['id']}").status_code == 200


def f_success(door: Door) -> None:
    for name, page in with_features(door):
        for one in page["features"]:
            alone = door.told(f"/collections/{name}/items/{one['id']}")
            assert {key: alone[key] for key in one} == one


def f_links(door: Door) -> None:
    for name, page in with_features(door):
        alone = door.told(f"/collections/{name}/items/{page['features'][0]['id']}")
        expect_forms(alone, GEOJSON)
        assert linked(alone, "collection") == f"{door.root}/collections/{name}?f=json"


CORE: Mapping[str, Check] = MappingProxyType(
    {
        "/req/core/root-op": root_op,
        "/req/core/root-success": root_success,
        "/req/core/api-definition-op": api_definition_op,
        "/req/core/api-definition-success": api_definition_success,
        "/req/core/conformance-op": conformance_op,
        "/req/core/conformance-success": conformance_success,
        "/req/core/http": http,
        "/req/core/query-param-unknown": query_param_unknown,
        "/req/core/query-param-invalid": query_param_invalid,
        "/req/core/crs84": crs84,
        "/req/core/fc-md-op": fc_md_op,
        "/req/core/fc-md-success": fc_md_success,
        "/req/core/fc-md-links": fc_md_links,
        "/req/core/fc-md-items": fc_md_items,
        "/req/core/fc-md-items-links": fc_md_items_links,
        "/req/core/fc-md-extent": fc_md_extent,
        "/req/core/sfc-md-op": sfc_md_op,
        "/req/core/sfc-md-success": sfc_md_success,
        "/req/core/fc-op": fc_op,
        "/req/core/fc-limit-definition": fc_limit_definition,
        "/req/core/fc-limit-response-1": fc_limit_response,
        "/req/core/fc-bbox-definition": fc_bbox_definition,
        "/req/core/fc-bbox-response": fc_bbox_response,
        "/req/core/fc-time-definition": fc_time_definition,
        "/req/core/fc-time-response": fc_time_response,
        "/req/core/fc-response": fc_response,
        "/req/core/fc-links": fc_links,
        "/req/core/fc-rel-type": fc_rel_type,
        "/req/core/fc-timeStamp": fc_time_stamp,
        "/req/core/fc-numberMatched": fc_number_matched,
        "/req/core/fc-numberReturned": fc_number_returned,
        "/req/core/f-op": f_op,
        "/req/core/f-success": f_success,
        "/req/core/f-links": f_links,
    }
)
"""Requirement of the class Core -> the check that it is met."""
