"""The app runs without any one of its features, and then nothing links to what is not there."""

from __future__ import annotations

import re
import shutil
from importlib import import_module
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from fastapi.testclient import TestClient
from starlette.routing import Match, Route

from server.app import create_app
from server.features import FEATURES
from server.settings import ServerSettings
from server.web.feature import Feature
from tests.server.conftest import HOST, ON

PAGES = {
    "maps": ("/",),
    "boxes": ("/list", "/boxes/M05", "/boxes/M05/card", "/api/boxes", "/api/nests"),
    "field": ("/field", "/field/day", "/field/key", "/field/manifest.webmanifest"),
    "visits": ("/boxes/M05/visit", "/api/visits"),
    "identify": ("/api/key",),
    "due": ("/due", "/api/due", "/due.ics"),
    "nearest": ("/api/near?lat=42.6&lon=-77.9",),
    "rounds": ("/round", "/round?set=boxes&boxes=M05", "/round/sheet?set=boxes&boxes=M05"),
    "week": ("/week", "/week?free=Ann:+Wed+60", "/api/week?free=Ann:+Wed+60"),
    "season": ("/season", "/api/season"),
    "winter": ("/winter", "/api/winter"),
    "siting": ("/site", "/api/site?lat=42.6&lon=-77.9"),
    "people": ("/people", "/sign-in"),
    "guide": ("/help",),
    "public": ("/open/",),
    "ogc": ("/ogc",),
    "importing": ("/import",),
    "preview": ("/open/preview",),
    "serving": ("/health",),
}
"""Feature -> addresses of it; features with commands alone have none."""
MOUNTED = {"public": "/open", "ogc": "/ogc"}
(PREVIEW,) = (feature for feature in FEATURES if feature.name == "preview")


def is_of(feature: Feature, path: str) -> bool:
    """Whether an address belongs to a feature."""
    if feature.name in MOUNTED:
        below = re.match(rf"{MOUNTED[feature.name]}(/|$)", path) is not None
        return below and not is_of(PREVIEW, path)
    scope = {"type": "http", "method": "GET", "path": path, "root_path": ""}
    return any(
        isinstance(route, Route) and route.matches(scope)[0] is Match.FULL
        for name in (*feature.routers, *feature.mounts)
        for route in import_module(feature.module(name)).router.routes
    )


def owner(path: str) -> str | None:
    """The feature that an address belongs to; a box's page takes what its form does not."""
    found = [feature.name for feature in FEATURES if is_of(feature, path)]
    return next((name for name in found if name != "boxes"), found[0] if found else None)


@pytest.fixture
def trail_path(few_boxes: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(few_boxes, tmp_path / "trail.gpkg"))


@pytest.mark.parametrize("left_out", FEATURES, ids=lambda feature: feature.name)
def test_the_app_runs_without_any_one_feature(trail_path: Path, left_out: Feature) -> None:
    settings = ServerSettings(trail=trail_path, on=ON)
    rest = [feature for feature in FEATURES if feature is not left_out]
    with TestClient(create_app(settings, features=rest), base_url=HOST) as client:
        for name, addresses in PAGES.items():
            for address in addresses:
                answer = client.get(address)
                if name == left_out.name:
                    # A box's page takes every address below it, also that of a form not there.
                    assert answer.status_code == 404, address
                    continue
                assert answer.status_code == 200, (address, answer.text)
                linked = re.findall(r'(?:href|action|src)="(/[^"]*)"', answer.text)
                for link in linked:
                    assert owner(urlsplit(link).path) != left_out.name, (address, link)


def test_every_feature_with_addresses_is_tried() -> None:
    assert set(PAGES) == {feature.name for feature in FEATURES if feature.routers or feature.mounts}
