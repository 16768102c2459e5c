"""Clients made by others read the feature service: GDAL (MIT) and OWSLib (BSD).

Both ask a real server over HTTP; what they find is held against the trail file, and what
they ask against a log of the requests. GDAL opens no file here: it knows the network only.
"""

from __future__ import annotations

import datetime as dt
import multiprocessing
import shutil
import socket
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs

import httpx
import pyogrio
import pytest
import uvicorn
from owslib.ogcapi.features import Features
from starlette.types import Receive, Scope, Send

from data_demo.build import build_demo
from layers.nesting.nests import begun
from layers.trail.store import Trail
from server.app import create_app
from server.live.contents import Contents
from server.settings import ServerSettings
from server.web.authentication.roles import Role
from server.web.authentication.store import People

pytestmark = pytest.mark.slow

ON = dt.date(2026, 6, 3)
TEAM = ("boxes", "paths", "places", "zones", "visits", "nests")
PUBLIC = ("cells", "nests", "paths", "places", "zones")


@dataclass(frozen=True)
class Served:
    """A running server, the trail it serves, and the file it logs what is asked in."""

    address: str
    trail: Path
    log: Path

    def asked(self) -> list[tuple[str, dict[str, list[str]]]]:
        """Paths and questions so far."""
        lines = [line.partition("?") for line in self.log.read_text().splitlines()]
        return [(path, parse_qs(query)) for path, _, query in lines]

    def requested_of(self, collection: str) -> list[dict[str, list[str]]]:
        return [asked for path, asked in self.asked() if path.endswith(f"/{collection}/items")]


def _serve(trail: Path, log: Path, listening: socket.socket) -> None:
    app = create_app(ServerSettings(trail=trail, on=ON))

    async def logged(scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http":
            with log.open("a") as file:
                file.write(f"{scope['path']}?{scope['query_string'].decode()}\n")
        await app(scope, receive, send)

    uvicorn.Server(uvicorn.Config(logged, log_level="warning")).run([listening])


@contextmanager
def serving(trail: Path) -> Iterator[Served]:
    log = trail.with_name("log")
    log.touch()
    with socket.create_server(("127.0.0.1", 0)) as listening:
        # In a process of its own: GDAL waits for an answer without letting Python go on.
        process = multiprocessing.get_context("spawn").Process(
            target=_serve, args=(trail, log, listening)
        )
        process.start()
        address = f"http://127.0.0.1:{listening.getsockname()[1]}"
    try:
        httpx.get(f"{address}/health", timeout=120)
        yield Served(address, trail, log)
    finally:
        process.terminate()
        process.join()


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    trail = tmp_path_factory.mktemp("clients") / "demo.gpkg"
    build_demo(trail)
    return trail


@pytest.fixture(scope="module")
def running(built: Path) -> Iterator[Served]:
    with serving(built) as server:
        yield server


@pytest.fixture
def served(running: Served) -> Served:
    running.log.write_text("")
    return running


def gdal(served: Served, layer: str, *, door: str = "/ogc", **asked: Any) -> Any:
    return pyogrio.read_dataframe(f"OAPIF:{served.address}{door}", layer=layer, **asked)


def counts(path: Path) -> dict[str, int]:
    with Trail.open(path) as trail:
        whole = {
            name: len(getattr(trail, name)()) for name in ("boxes", "paths", "places", "zones")
        }
        attempts = begun(Contents.read(trail).histories, on=ON)
        return whole | {"visits": len(trail.visit_rows()), "nests": len(attempts)}


def owslib(served: Served, door: str = "/ogc") -> Features:
    return Features(f"{served.address}{door}")


def test_gdal_reads_every_collection_whole(served: Served) -> None:
    expected = counts(served.trail)
    layers = pyogrio.list_layers(f"OAPIF:{served.address}/ogc")
    assert {name: kind.removesuffix(" Z") for name, kind in layers} == {
        "boxes": "Point",
        "paths": "LineString",
        "places": "Point",
        "zones": "Polygon",
        "visits": "Point",
        "nests": "Point",
    }
    for name in TEAM:
        found = gdal(served, name)
        assert len(found) == expected.get(name, len(found)) > 0
    assert sum("offset" in asked for asked in served.requested_of("visits")) >= 4


def test_gdal_finds_the_shapes_and_cells_of_the_file(served: Served) -> None:
    found = gdal(served, "boxes").set_index("box")
    with Trail.open(served.trail) as trail:
        boxes = trail.boxes().set_index("box")
    assert found.geometry.geom_equals(boxes.geometry.loc[found.index]).all()
    assert found["hole_mm"].to_list() == boxes["hole_mm"].loc[found.index].to_list()
    assert found["section"].to_list() == boxes["section"].loc[found.index].to_list()


def test_gdal_learns_the_kind_of_each_column_even_where_the_first_cells_are_empty(
    served: Served,
) -> None:
    told = pyogrio.read_info(f"OAPIF:{served.address}/ogc", layer="visits")
    kinds = dict(zip(told["fields"], told["ogr_types"], strict=True))
    assert kinds["young_days"] == "OFTInteger"
    assert kinds["seen_on"] == "OFTDate"
    assert kinds["entered_at"] == "OFTDateTime"


def test_gdal_pushes_bounds_down(served: Served) -> None:
    bounds = (-77.904, 42.600, -77.902, 42.602)
    found = gdal(served, "boxes", bbox=bounds)
    with Trail.open(served.trail) as trail:
        expected = trail.boxes().cx[bounds[0] : bounds[2], bounds[1] : bounds[3]]
    assert set(found["box"]) == set(expected["box"])
    assert 0 < len(found) < 60
    asked = served.requested_of("boxes")[-1]
    assert [float(part) for part in asked["bbox"][0].split(",")] == pytest.approx(bounds)


def test_gdal_pushes_time_down(served: Served) -> None:
    found = gdal(served, "visits", where="seen_on >= '2026-05-01' AND seen_on <= '2026-05-31'")
    with Trail.open(served.trail) as trail:
        rows = trail.visit_rows()
    expected = {row["visit_id"] for row in rows if row["seen_on"].startswith("2026-05")}
    assert set(found["visit_id"]) == expected
    assert "datetime" in served.requested_of("visits")[-1]


def test_gdal_pushes_columns_down(served: Served) -> None:
    found = gdal(served, "visits", where="box = 'M05' AND nest = 'shaped cup'")
    with Trail.open(served.trail) as trail:
        expected = [row for row in trail.visit_rows("M05") if row["nest"] == "shaped cup"]
    assert len(found) == len(expected) > 0
    asked = served.requested_of("visits")[-1]
    assert (asked["box"], asked["nest"]) == (["M05"], ["shaped cup"])


def test_gdal_reads_the_public_collections(served: Served) -> None:
    address = f"OAPIF:{served.address}/open/ogc"
    assert {name for name, _ in pyogrio.list_layers(address)} == set(PUBLIC)
    cells, nests = (gdal(served, name, door="/open/ogc") for name in ("cells", "nests"))
    assert cells["boxes"].sum() > 0
    assert set(nests["cell"]) <= set(cells["cell"])
    assert all(path.startswith("/open/") for path, _ in served.asked())


def test_owslib_reads_every_collection_whole(served: Served) -> None:
    service = owslib(served)
    assert set(service.feature_collections()) == set(TEAM)
    assert len(service.conformance()["conformsTo"]) == 4
    assert service.api()["openapi"] == "3.0.3"
    for name, expected in counts(served.trail).items():
        ids: list[Any] = []
        while True:
            page = service.collection_items(name, limit=700, offset=len(ids))
            ids += [one["id"] for one in page["features"]]
            if not any(link["rel"] == "next" for link in page["links"]):
                break
        assert len(ids) == len(set(ids)) == expected


def test_owslib_pushes_bounds_and_time_down(served: Served) -> None:
    service = owslib(served)
    bounds = [-77.904, 42.600, -77.902, 42.602]
    inside = service.collection_items("boxes", bbox=bounds)
    assert 0 < inside["numberMatched"] < 60
    month = service.collection_items("visits", datetime_="2026-05-01/2026-05-31", limit=1)
    with Trail.open(served.trail) as trail:
        days = [row["seen_on"] for row in trail.visit_rows()]
    assert month["numberMatched"] == sum("2026-05-01" <= day <= "2026-05-31" for day in days)
    assert "bbox" in served.requested_of("boxes")[-1]
    assert served.requested_of("visits")[-1]["datetime"] == ["2026-05-01/2026-05-31"]


def test_owslib_reads_one_feature(served: Served) -> None:
    one = owslib(served).collection_item("boxes", "M05")
    assert one["properties"]["box"] == "M05"


def test_gdal_signs_in_with_a_programs_key_as_its_password(built: Path, tmp_path: Path) -> None:
    trail = Path(shutil.copy(built, tmp_path / "team.gpkg"))
    now = dt.datetime.now(dt.UTC)
    with People.open_or_create(trail) as people:
        people.invite("Wren", role=Role.KEEPER, now=now, days=30)
        key = people.add_key("Wren", kind="program", label="desktop GIS", now=now)
    with serving(trail) as server:
        assert len(gdal(server, "boxes", USERPWD=f"gis:{key}")) == 60
        assert len(gdal(server, "cells", door="/open/ogc")) > 0
        with pytest.raises(pyogrio.errors.DataSourceError, match="401"):
            gdal(server, "boxes", USERPWD="gis:not-a-key")
