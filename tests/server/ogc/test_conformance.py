"""Both feature services meet every requirement of the standard's classes they name."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from server.app import create_app
from server.settings import ServerSettings
from tests.server.conftest import HOST, ON
from tests.server.ogc.doors import Door
from tests.server.ogc.other_classes import OTHER_CLASSES
from tests.server.ogc.requirements import CORE

REQUIREMENTS = {**CORE, **OTHER_CLASSES}


@pytest.fixture(scope="module")
def asked(built: Path) -> Iterator[TestClient]:
    """An app that only answers: one for all requirements."""
    app = create_app(ServerSettings(trail=built, on=ON))
    with TestClient(app, raise_server_exceptions=False, base_url=HOST) as opened:
        yield opened


@pytest.mark.parametrize("root", ["/ogc", "/open/ogc"])
@pytest.mark.parametrize("requirement", REQUIREMENTS)
def test_each_requirement_is_met(asked: TestClient, root: str, requirement: str) -> None:
    REQUIREMENTS[requirement](Door(asked, f"{HOST}{root}"))


def test_the_table_has_every_requirement_of_the_four_classes() -> None:
    # The numbers of requirements that OGC 17-069r4 has (from memory).
    classes = Counter(name.split("/")[2] for name in REQUIREMENTS)
    assert classes == {"core": 34, "html": 2, "geojson": 2, "oas30": 6}
